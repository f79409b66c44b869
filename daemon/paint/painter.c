/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/paint/painter.h"

enum { AT_ONCE = 2, WAITING_MOST = 64 };

struct Painter {
    uv_loop_t *loop;
    GQueue waiting; /* of Task */
    int running;
    bool closing;
};

typedef struct {
    uv_work_t work;
    Painter *painter;
    Drawing *drawing;
    GBytes *bytes;
    PainterDone *done;
    void *context;
} Task;

static void start_next(Painter *painter);

/* Hands over what was drawn, or nothing. */
static void finish(Task *task, bool keep)
{
    if (!keep) g_clear_pointer(&task->bytes, g_bytes_unref);
    drawing_free(task->drawing);
    task->done(task->bytes, task->context);
    g_free(task);
}

static void on_thread(uv_work_t *request)
{
    Task *task = request->data;

    task->bytes = drawing_draw(task->drawing);
}

static void on_loop(uv_work_t *request, int status)
{
    Task *task = request->data;
    Painter *painter = task->painter;
    bool closing = painter->closing;

    painter->running--;
    finish(task, !closing && status == 0);
    if (!closing)
        start_next(painter);
    else if (painter->running == 0)
        g_free(painter);
}

static void start_next(Painter *painter)
{
    while (painter->running < AT_ONCE && !g_queue_is_empty(&painter->waiting)) {
        Task *task = g_queue_pop_head(&painter->waiting);
        painter->running++;
        task->work.data = task;
        uv_queue_work(painter->loop, &task->work, on_thread, on_loop);
    }
}

Painter *painter_new(uv_loop_t *loop)
{
    Painter *painter = g_new0(Painter, 1);

    painter->loop = loop;
    g_queue_init(&painter->waiting);
    return painter;
}

void painter_close(Painter *painter)
{
    painter->closing = true;
    while (!g_queue_is_empty(&painter->waiting))
        finish(g_queue_pop_head(&painter->waiting), false);
    if (painter->running == 0) g_free(painter);
}

bool painter_draw(Painter *painter, Drawing *drawing, PainterDone *done, void *context)
{
    if (painter->closing || g_queue_get_length(&painter->waiting) >= WAITING_MOST) {
        drawing_free(drawing);
        return false;
    }
    Task *task = g_new0(Task, 1);
    *task = (Task){.painter = painter, .drawing = drawing, .done = done, .context = context};
    if (painter->loop == NULL) {
        task->bytes = drawing_draw(drawing);
        finish(task, true);
        return true;
    }
    g_queue_push_tail(&painter->waiting, task);
    start_next(painter);
    return true;
}

int painter_busy(const Painter *painter)
{
    return painter->running + (int)g_queue_get_length((GQueue *)&painter->waiting);
}
