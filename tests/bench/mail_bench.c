/* SPDX-License-Identifier: Apache-2.0 */
/* Mails a second to a sink on the loopback, carried and composed, beside bare libcurl that sends one ready mail over four kept
 * connections; and how long hostile mail holds the loop. */
#include <curl/curl.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

#include "adapters/mail/compose.h"
#include "adapters/net/net_curl.h"
#include "daemon/intake/mail_reader.h"
#include "tests/bench/figure.h"
#include "tests/support/hostile_mail.h"
#include "tests/support/script_server.h"

enum { AT_ONCE = 4, COUNT = 2000, RUNS = 5 };

static const char text[] =
    "Your clinic, Reedbank: it is time for your stretches, calves first.\n"
    "Answer D when they are done, with a number from 0 to 10 for the pull.\n";

typedef struct {
    char *url;
    Gateway gateway;
    MailServer server;
    int left, under_way;
    Net *net;
    gint failed;
    GBytes *ready;
    bool composes; /* each mail is composed, instead of the ready one */
} Bench;

/* ---- the sink ---- */

static void swallow(ScriptPeer *peer, GString *heard, void *context)
{
    int *phase = script_state(peer); /* 0 new, 1 commands, 2 a mail */

    (void)context;
    if (*phase == 0) script_say_text(peer, "220 sink.example\r\n");
    if (*phase == 0) *phase = 1;
    for (char *line; (line = script_take_line(heard)) != NULL; g_free(line)) {
        bool ends = *phase == 2 && strcmp(line, ".") == 0;
        if (*phase == 2 && !ends) continue;
        *phase = strcmp(line, "DATA") == 0 ? 2 : 1;
        script_say_text(peer, *phase == 2 ? "354 go on\r\n" : "250 fine\r\n");
        if (strcmp(line, "QUIT") == 0) script_hang_up(peer);
    }
}

static pid_t sink_run(int *port)
{
    int ends[2];
    g_assert(pipe(ends) == 0);
    pid_t sink = fork();
    if (sink == 0) {
        uv_loop_t loop;
        uv_loop_init(&loop);
        int own = script_server_port(script_server_new(&loop, swallow, NULL));
        g_assert(write(ends[1], &own, sizeof own) == sizeof own);
        uv_run(&loop, UV_RUN_DEFAULT);
        exit(0);
    }
    g_assert(sink > 0 && read(ends[0], port, sizeof *port) == sizeof *port);
    close(ends[0]);
    close(ends[1]);
    return sink;
}

/* ---- bare libcurl, a thread for each connection ---- */

typedef struct {
    Bench *bench;
    size_t given;
} Giving;

static size_t give(char *buffer, size_t size, size_t count, void *context)
{
    Giving *giving = context;
    gsize total;
    const char *mail = g_bytes_get_data(giving->bench->ready, &total);
    size_t length = MIN(size * count, total - giving->given);
    memcpy(buffer, mail + giving->given, length);
    giving->given += length;
    return length;
}

static void *send_bare(void *context)
{
    Bench *bench = context;
    Giving giving = {.bench = bench};
    struct curl_slist *to = curl_slist_append(NULL, "ada@client.example");
    CURL *easy = curl_easy_init();

    curl_easy_setopt(easy, CURLOPT_URL, bench->url);
    curl_easy_setopt(easy, CURLOPT_NOSIGNAL, 1L);
    curl_easy_setopt(easy, CURLOPT_MAIL_FROM, "sessions@clinic.example");
    curl_easy_setopt(easy, CURLOPT_MAIL_RCPT, to);
    curl_easy_setopt(easy, CURLOPT_UPLOAD, 1L);
    curl_easy_setopt(easy, CURLOPT_READFUNCTION, give);
    curl_easy_setopt(easy, CURLOPT_READDATA, &giving);
    while (g_atomic_int_add(&bench->left, -1) > 0) {
        giving.given = 0;
        if (curl_easy_perform(easy) != CURLE_OK) g_atomic_int_inc(&bench->failed);
    }
    curl_easy_cleanup(easy);
    curl_slist_free_all(to);
    return NULL;
}

static void run_bare(int count, void *context)
{
    Bench *bench = context;
    GThread *threads[AT_ONCE];

    bench->left = count;
    for (int i = 0; i < AT_ONCE; i++)
        threads[i] = g_thread_new("bare", send_bare, bench);
    for (int i = 0; i < AT_ONCE; i++)
        g_thread_join(threads[i]);
}

/* ---- the net port ---- */

static WireRequest *composed(const Bench *bench, const char *id)
{
    char *why = NULL;
    const Outgoing outgoing = {.id = id,
                               .to = "ada@client.example",
                               .subject = "Your stretches",
                               .text = text,
                               .at_ms = INT64_C(1772438400000)};
    WireRequest *request = mail_send_request(&bench->gateway, &outgoing, true, NULL, &why);

    g_assert(request != NULL);
    return request;
}

static WireRequest *ready(const Bench *bench)
{
    WireRequest *request = wire_request_new(EXCHANGE_SMTP, bench->url);

    request->body = g_bytes_ref(bench->ready);
    request->mail_from = g_strdup("sessions@clinic.example");
    request->mail_to = g_ptr_array_new_with_free_func(g_free);
    g_ptr_array_add(request->mail_to, g_strdup("ada@client.example"));
    return request;
}

static void submit_next(Bench *bench);

static void note(WireResponse *response, void *context)
{
    Bench *bench = context;
    if (response->phase != PHASE_ANSWERED || response->status != 250) bench->failed++;
    wire_response_free(response);
    bench->under_way--;
    submit_next(bench);
}

static void submit_next(Bench *bench)
{
    if (bench->left == 0) return;
    g_autofree char *id = g_strdup_printf("%032X", bench->left--);
    bench->under_way++;
    net_submit(bench->net, bench->composes ? composed(bench, id) : ready(bench), note, bench);
}

static int64_t wall(void *context)
{
    (void)context;
    return g_get_real_time() / 1000;
}

static void run_net(int count, void *context)
{
    Bench *bench = context;
    uv_loop_t loop;
    char *why = NULL;
    const NetCurlOptions options = {
        .loopback_only = true, .wall_ms = wall, .connections_max = AT_ONCE};

    uv_loop_init(&loop);
    bench->net = net_curl_new(&loop, &options, &why);
    g_assert(bench->net != NULL);
    bench->left = count;
    for (int i = 0; i < 2 * AT_ONCE; i++)
        submit_next(bench);
    while (bench->under_way > 0)
        uv_run(&loop, UV_RUN_ONCE);
    bench->net->close(bench->net);
    uv_run(&loop, UV_RUN_DEFAULT);
    g_assert(uv_loop_close(&loop) == 0);
}

/* ---- hostile mail ---- */

typedef struct {
    uv_loop_t loop;
    MailReader *reader;
    uv_idle_t turning; /* so that every turn of the loop is seen */
    uv_check_t seeing;
    int64_t seen_us, held_us; /* the last turn, and the longest */
    GBytes *mails[HOSTILE_KINDS];
    int kind;
} Watch;

static void turn(uv_idle_t *idle)
{
    (void)idle;
}

static void see(uv_check_t *check)
{
    Watch *watch = check->data;
    int64_t now_us = g_get_monotonic_time();
    watch->held_us = MAX(watch->held_us, now_us - watch->seen_us);
    watch->seen_us = now_us;
    g_usleep(200); /* a loop that waits for its sockets leaves the processor to the worker */
}

static void read_next(MailIn *in, void *context)
{
    Watch *watch = context;

    mail_in_free(in);
    if (watch->kind == HOSTILE_KINDS) {
        uv_close((uv_handle_t *)&watch->turning, NULL);
        uv_close((uv_handle_t *)&watch->seeing, NULL);
        mail_reader_close(watch->reader);
        return;
    }
    mail_reader_read(watch->reader, watch->mails[watch->kind++], true, read_next, watch);
}

static double held_ms(void)
{
    Watch watch = {0};

    for (int kind = 0; kind < HOSTILE_KINDS; kind++)
        watch.mails[kind] = hostile_mail(kind);
    uv_loop_init(&watch.loop);
    watch.reader = mail_reader_new(&watch.loop);
    uv_idle_init(&watch.loop, &watch.turning);
    uv_check_init(&watch.loop, &watch.seeing);
    watch.seeing.data = &watch;
    uv_idle_start(&watch.turning, turn);
    uv_check_start(&watch.seeing, see);
    watch.seen_us = g_get_monotonic_time();
    read_next(NULL, &watch);
    uv_run(&watch.loop, UV_RUN_DEFAULT);
    g_assert(uv_loop_close(&watch.loop) == 0);
    for (int kind = 0; kind < HOSTILE_KINDS; kind++)
        g_bytes_unref(watch.mails[kind]);
    return (double)watch.held_us / 1000;
}

static double longest_ms(const char **name)
{
    int64_t longest_us = 0;

    for (int kind = 0; kind < HOSTILE_KINDS; kind++) {
        g_autoptr(GBytes) mail = hostile_mail(kind);
        int64_t began_us = g_get_monotonic_time();
        mail_in_free(mail_read(mail, true));
        int64_t took_us = g_get_monotonic_time() - began_us;
        if (took_us <= longest_us) continue;
        longest_us = took_us;
        *name = hostile_name(kind);
    }
    return (double)longest_us / 1000;
}

static void print_hostile(void)
{
    const char *name = "";
    double longest = longest_ms(&name), held = held_ms();

    printf("%-38s %10.1f ms at most, while %d of 1 MiB are read; the longest of them (%s) takes "
           "%.1f ms\n",
           "hostile mail, loop held", held, HOSTILE_KINDS, name, longest);
}

int main(void)
{
    int port;
    signal(SIGPIPE, SIG_IGN);
    mail_start();
    pid_t sink = sink_run(&port);
    Bench bench = {.url = g_strdup_printf("smtp://127.0.0.1:%d", port)};
    Figure net, bare;
    bench.server.url = bench.url;
    bench.gateway.mail_from = (char *)"Reedbank <sessions@clinic.example>";
    bench.gateway.smtp = &bench.server;
    g_autoptr(WireRequest) first = composed(&bench, "00112233445566778899AABBCCDDEEFF");
    bench.ready = g_bytes_ref(first->body);
    for (int turn = 0; turn < 2; turn++) {
        bench.composes = turn == 1;
        figure_compare(run_net, run_bare, COUNT, RUNS, &bench, &net, &bare);
        figure_print(bench.composes ? "mails, composed and carried" : "mails, carried", &net,
                     "libcurl, 4 kept connections", &bare);
    }
    kill(sink, SIGTERM);
    waitpid(sink, NULL, 0);
    print_hostile();
    g_bytes_unref(bench.ready);
    g_free(bench.url);
    if (bench.failed > 0)
        fprintf(stderr, "%d mails failed: the figures mean nothing\n", bench.failed);
    return bench.failed > 0;
}
