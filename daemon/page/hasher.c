/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/page/hasher.h"

#include <glib.h>

#include "adapters/page/password.h"

enum { AT_ONCE = 2, WAITING_MOST = 16 };

struct Hasher {
    uv_loop_t *loop;
    GQueue waiting; /* of Work */
    int running;
    bool closing;
};

typedef struct {
    uv_work_t work;
    Hasher *hasher;
    bool makes;
    char *hash; /* held against, or made */
    char *password;
    bool good;
    HasherDone *done;
    void *context;
} Work;

static void start_next(Hasher *hasher);

static void finish(Work *work, bool good)
{
    char *made = work->makes ? g_steal_pointer(&work->hash) : NULL;

    work->done(good, made, work->context);
    password_forget(work->password);
    g_free(work->hash);
    g_free(work);
}

static void on_thread(uv_work_t *request)
{
    Work *work = request->data;

    if (work->makes) {
        work->hash = password_hash(work->password);
        work->good = work->hash != NULL;
    } else {
        work->good = password_matches(work->hash, work->password);
    }
}

static void on_loop(uv_work_t *request, int status)
{
    Work *work = request->data;
    Hasher *hasher = work->hasher;
    bool closing = hasher->closing;

    hasher->running--;
    if (closing && work->makes) g_clear_pointer(&work->hash, g_free);
    finish(work, !closing && status == 0 && work->good);
    if (!closing)
        start_next(hasher);
    else if (hasher->running == 0)
        g_free(hasher);
}

static void start_next(Hasher *hasher)
{
    while (hasher->running < AT_ONCE && !g_queue_is_empty(&hasher->waiting)) {
        Work *work = g_queue_pop_head(&hasher->waiting);
        hasher->running++;
        work->work.data = work;
        uv_queue_work(hasher->loop, &work->work, on_thread, on_loop);
    }
}

Hasher *hasher_new(uv_loop_t *loop)
{
    Hasher *hasher = g_new0(Hasher, 1);

    password_start();
    hasher->loop = loop;
    g_queue_init(&hasher->waiting);
    return hasher;
}

void hasher_close(Hasher *hasher)
{
    hasher->closing = true;
    while (!g_queue_is_empty(&hasher->waiting))
        finish(g_queue_pop_head(&hasher->waiting), false);
    if (hasher->running == 0) g_free(hasher);
}

static bool queue(Hasher *hasher, const char *hash, char *password, bool makes, HasherDone *done,
                  void *context)
{
    if (hasher->closing || g_queue_get_length(&hasher->waiting) >= WAITING_MOST) {
        password_forget(password);
        return false;
    }
    Work *work = g_new0(Work, 1);
    *work = (Work){.hasher = hasher,
                   .makes = makes,
                   .hash = g_strdup(hash),
                   .password = password,
                   .done = done,
                   .context = context};
    g_queue_push_tail(&hasher->waiting, work);
    start_next(hasher);
    return true;
}

bool hasher_check(Hasher *hasher, const char *hash, char *password, HasherDone *done, void *context)
{
    return queue(hasher, hash, password, false, done, context);
}

bool hasher_make(Hasher *hasher, char *password, HasherDone *done, void *context)
{
    return queue(hasher, NULL, password, true, done, context);
}
