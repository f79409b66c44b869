/* SPDX-License-Identifier: Apache-2.0 */
#include "tests/bench/poster.h"

#include <curl/curl.h>
#include <glib.h>
#include <poll.h>
#include <signal.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

typedef struct {
    CURL *easy;
    int64_t began_us;
    bool busy;
} Line;

typedef struct {
    CURLM *multi;
    struct curl_slist *headers;
    Line lines[POSTER_AT_ONCE];
    const PosterOrder *order;
    int64_t began_us;
    int posted, answered;
    double *ms; /* of each answer */
    int refused;
} Work;

static size_t swallow(char *data, size_t size, size_t count, void *context)
{
    (void)data;
    (void)context;
    return size * count;
}

static void set_up(Work *work)
{
    work->multi = curl_multi_init();
    work->headers = curl_slist_append(NULL, "Content-Type: application/json");
    for (int i = 0; i < POSTER_AT_ONCE; i++) {
        CURL *easy = work->lines[i].easy = curl_easy_init();
        curl_easy_setopt(easy, CURLOPT_HTTPHEADER, work->headers);
        curl_easy_setopt(easy, CURLOPT_WRITEFUNCTION, swallow);
        curl_easy_setopt(easy, CURLOPT_PRIVATE, &work->lines[i]);
    }
}

/* When the next may go out. */
static int64_t next_us(const Work *work)
{
    int a_second = work->order->a_second;

    return a_second == 0 ? 0 : work->began_us + work->posted * (int64_t)G_USEC_PER_SEC / a_second;
}

static void post_on(Work *work, Line *line)
{
    int number = work->order->first + work->posted++;
    g_autofree char *body = g_strdup_printf(
        "{\"id\":\"in-%d\",\"from\":\"+4477%08d\",\"text\":\"Did them, a 4, no pain\"}", number,
        number);

    curl_easy_setopt(line->easy, CURLOPT_URL, work->order->url);
    curl_easy_setopt(line->easy, CURLOPT_COPYPOSTFIELDS, body);
    line->busy = true;
    line->began_us = g_get_monotonic_time();
    curl_multi_add_handle(work->multi, line->easy);
}

static void post_due(Work *work)
{
    for (int i = 0; i < POSTER_AT_ONCE; i++) {
        if (work->posted == work->order->count || next_us(work) > g_get_monotonic_time()) return;
        if (!work->lines[i].busy) post_on(work, &work->lines[i]);
    }
}

static void collect(Work *work)
{
    int left;

    for (CURLMsg *news; (news = curl_multi_info_read(work->multi, &left)) != NULL;) {
        CURL *easy = news->easy_handle;
        Line *line;
        long status = 0;
        curl_easy_getinfo(easy, CURLINFO_RESPONSE_CODE, &status);
        curl_easy_getinfo(easy, CURLINFO_PRIVATE, &line);
        work->refused += status != 200;
        work->ms[work->answered++] = (double)(g_get_monotonic_time() - line->began_us) / 1000;
        line->busy = false;
        curl_multi_remove_handle(work->multi, easy);
    }
}

/* Until an answer may come, or until the next may go out where a line is free for it. */
static int wait_ms(const Work *work)
{
    if (work->posted == work->order->count || work->posted - work->answered == POSTER_AT_ONCE)
        return 1000;
    return (int)CLAMP((next_us(work) - g_get_monotonic_time()) / 1000, 0, 1000);
}

static int by_size(const void *a, const void *b)
{
    double left = *(const double *)a, right = *(const double *)b;
    return (left > right) - (left < right);
}

static PosterHeard do_order(Work *work, const PosterOrder *order)
{
    int running;

    work->order = order;
    work->posted = work->answered = work->refused = 0;
    work->ms = g_new(double, order->count);
    work->began_us = g_get_monotonic_time();
    while (work->answered < order->count) {
        post_due(work);
        curl_multi_poll(work->multi, NULL, 0, wait_ms(work), NULL);
        curl_multi_perform(work->multi, &running);
        collect(work);
    }
    double took_s = (double)(g_get_monotonic_time() - work->began_us) / G_USEC_PER_SEC;
    qsort(work->ms, (size_t)order->count, sizeof work->ms[0], by_size);
    PosterHeard heard = {.took_s = took_s,
                         .middle_ms = work->ms[order->count / 2],
                         .slow_ms = work->ms[(order->count * 99 + 99) / 100 - 1],
                         .refused = work->refused};
    g_free(work->ms);
    return heard;
}

static void work_on(int orders, int heard_pipe)
{
    Work work = {0};
    PosterOrder order;

    signal(SIGPIPE, SIG_IGN);
    set_up(&work);
    while (read(orders, &order, sizeof order) == sizeof order) {
        PosterHeard heard = do_order(&work, &order);
        if (write(heard_pipe, &heard, sizeof heard) != sizeof heard) break;
    }
}

void poster_start(Poster *poster)
{
    int orders[2], heard[2];

    g_assert(pipe(orders) == 0 && pipe(heard) == 0);
    poster->process = fork();
    g_assert(poster->process >= 0);
    if (poster->process == 0) {
        close(orders[1]);
        close(heard[0]);
        work_on(orders[0], heard[1]);
        _exit(0);
    }
    close(orders[0]);
    close(heard[1]);
    poster->orders = orders[1];
    poster->heard = heard[0];
}

void poster_stop(Poster *poster)
{
    close(poster->orders);
    close(poster->heard);
    waitpid(poster->process, NULL, 0);
}

void poster_order(const Poster *poster, const PosterOrder *order)
{
    g_assert(write(poster->orders, order, sizeof *order) == sizeof *order);
}

PosterHeard poster_heard(const Poster *poster)
{
    PosterHeard heard;
    struct pollfd pipe = {.fd = poster->heard,
                          .events = POLLIN}; /* libuv may have made it not block */

    g_assert(poll(&pipe, 1, -1) == 1);
    g_assert(read(poster->heard, &heard, sizeof heard) == sizeof heard);
    return heard;
}
