/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/intake/hook_watch.h"

#include <string.h>

#include "core/calendar/date.h"
#include "daemon/jobs/gateway_matter.h"

#define TELL_AFTER_MS HOUR_MS
#define TELL_EVERY_MS DAY_MS

typedef struct {
    char *gateway;
    int64_t refused;       /* since the start */
    int64_t since_ms;      /* the first that was refused since one was accepted; 0: none */
    int64_t refused_at_ms; /* the last */
    int64_t odd;           /* since the start */
    int64_t odd_at_ms;
    int64_t told_ms; /* when it was last told; 0: not since the start */
    bool held;       /* one was accepted since the start, or since it was told */
} Post;

struct HookWatch {
    Desk *desk;
    GPtrArray *posts; /* of Post: as many as gateways have posted */
};

static void post_free(void *data)
{
    Post *post = data;

    g_free(post->gateway);
    g_free(post);
}

HookWatch *hook_watch_new(Desk *desk)
{
    HookWatch *watch = g_new0(HookWatch, 1);

    watch->desk = desk;
    watch->posts = g_ptr_array_new_with_free_func(post_free);
    return watch;
}

void hook_watch_free(HookWatch *watch)
{
    g_ptr_array_unref(watch->posts);
    g_free(watch);
}

static Post *post_of(HookWatch *watch, const char *gateway)
{
    for (guint i = 0; i < watch->posts->len; i++) {
        Post *post = watch->posts->pdata[i];
        if (strcmp(post->gateway, gateway) == 0) return post;
    }
    Post *post = g_new0(Post, 1);
    post->gateway = g_strdup(gateway);
    g_ptr_array_add(watch->posts, post);
    return post;
}

/* Posts live as long as the watch, and the store is closed before that is freed. */
static bool tell_job(Job *job, void *context)
{
    const char *gateway = ((const Post *)context)->gateway;

    if (job->sender &&
        !gateway_matter_since(job, gateway, GATEWAY_REFUSED, job->now_ms - TELL_EVERY_MS))
        gateway_matter_open(job, gateway, GATEWAY_REFUSED);
    return true;
}

static bool close_job(Job *job, void *context)
{
    if (job->sender) gateway_matter_close(job, ((const Post *)context)->gateway, GATEWAY_REFUSED);
    return true;
}

/* No room, or no store: told at the next that is refused, closed at the next that is accepted. */
static void told(StoreStatus status, void *context)
{
    if (store_passes(status)) ((Post *)context)->told_ms = 0;
}

static void closed(StoreStatus status, void *context)
{
    if (store_passes(status)) ((Post *)context)->held = false;
}

void hook_watch_held(HookWatch *watch, const char *gateway)
{
    Post *post = post_of(watch, gateway);

    post->since_ms = 0;
    if (post->held) return;
    post->held = true; /* an alert may be open, from before the start perhaps */
    desk_submit(watch->desk, close_job, closed, post);
}

void hook_watch_refused(HookWatch *watch, const char *gateway)
{
    Post *post = post_of(watch, gateway);
    int64_t now = clock_now(desk_clock(watch->desk));

    post->refused++;
    post->refused_at_ms = now;
    if (post->since_ms == 0) post->since_ms = now;
    if (now - post->since_ms < TELL_AFTER_MS) return;
    if (post->told_ms != 0 && now - post->told_ms < TELL_EVERY_MS) return;
    post->told_ms = now;
    post->held = false;
    desk_submit(watch->desk, tell_job, told, post);
}

void hook_watch_odd(HookWatch *watch, const char *gateway)
{
    Post *post = post_of(watch, gateway);

    post->odd++;
    post->odd_at_ms = clock_now(desk_clock(watch->desk));
}

/* NULL: never (g_free). */
static char *instant_of(int64_t at_ms)
{
    return at_ms > 0 ? instant_format(at_ms) : NULL;
}

json_t *hook_watch_json(const HookWatch *watch)
{
    json_t *list = json_array();

    for (guint i = 0; i < watch->posts->len; i++) {
        const Post *post = watch->posts->pdata[i];
        g_autofree char *since = instant_of(post->since_ms);
        g_autofree char *last = instant_of(post->refused_at_ms);
        g_autofree char *odd = instant_of(post->odd_at_ms);
        json_array_append_new(list, json_pack("{s:s, s:I, s:s?, s:s?, s:I, s:s?}", "name",
                                              post->gateway, "refused", (json_int_t)post->refused,
                                              "since", since, "last", last, "unreadable",
                                              (json_int_t)post->odd, "unreadable_last", odd));
    }
    return list;
}
