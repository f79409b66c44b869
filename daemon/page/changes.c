/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/page/changes.h"

#include <string.h>

enum { TOGETHER_MS = 300, OF_ONE_MOST = 8 };

struct Changes {
    uv_timer_t timer;
    GPtrArray *listeners; /* of Listener, oldest first */
    uint64_t count;
};

typedef struct {
    Changes *changes;
    ServeStream *stream;
    char *who;
} Listener;

Changes *changes_new(uv_loop_t *loop)
{
    Changes *changes = g_new0(Changes, 1);

    uv_timer_init(loop, &changes->timer);
    uv_unref((uv_handle_t *)&changes->timer);
    changes->timer.data = changes;
    changes->listeners = g_ptr_array_new();
    return changes;
}

static void timer_closed(uv_handle_t *handle)
{
    g_free(handle->data);
}

void changes_close(Changes *changes)
{
    g_assert(changes->listeners->len == 0);
    g_ptr_array_unref(changes->listeners);
    uv_close((uv_handle_t *)&changes->timer, timer_closed);
}

static void gone(void *context)
{
    Listener *listener = context;

    g_ptr_array_remove(listener->changes->listeners, listener);
    g_free(listener->who);
    g_free(listener);
}

/* A page that was left open in many windows loses the oldest. */
static void make_room(Changes *changes, const char *who)
{
    Listener *oldest = NULL;
    int of_one = 0;

    for (guint i = 0; i < changes->listeners->len; i++) {
        Listener *listener = changes->listeners->pdata[i];
        if (strcmp(listener->who, who) != 0) continue;
        if (of_one++ == 0) oldest = listener;
    }
    if (of_one >= OF_ONE_MOST) serve_stream_end(oldest->stream);
}

void changes_listen(Changes *changes, ServeRequest *request, const char *who)
{
    Listener *listener = g_new0(Listener, 1);

    make_room(changes, who);
    *listener = (Listener){.changes = changes, .who = g_strdup(who)};
    listener->stream =
        serve_stream(request, "text/event-stream", ": still here\n\n", gone, listener);
    if (listener->stream == NULL) {
        g_free(listener->who);
        g_free(listener);
        return;
    }
    g_ptr_array_add(changes->listeners, listener);
    serve_stream_send(listener->stream, "retry: 3000\n\n");
}

static void tell(uv_timer_t *timer)
{
    Changes *changes = timer->data;
    g_autofree char *text =
        g_strdup_printf("event: moved\ndata: %" G_GUINT64_FORMAT "\n\n", ++changes->count);

    for (guint i = changes->listeners->len; i-- > 0;)
        serve_stream_send(((Listener *)changes->listeners->pdata[i])->stream, text);
}

void changes_moved(Changes *changes)
{
    if (changes->listeners->len > 0 && !uv_is_active((uv_handle_t *)&changes->timer))
        uv_timer_start(&changes->timer, tell, TOGETHER_MS, 0);
}

void changes_let_go(Changes *changes, const char *who)
{
    for (guint i = changes->listeners->len; i-- > 0;) {
        Listener *listener = changes->listeners->pdata[i];
        if (strcmp(listener->who, who) == 0) serve_stream_end(listener->stream);
    }
}
