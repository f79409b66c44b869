/* SPDX-License-Identifier: Apache-2.0 */
/* Somebody else answers where a gateway should: another name, a certificate that has run out or that nobody vouches for; or
 * the name leads nowhere. Nothing is sent to a stranger, what waits goes out once the gateway is itself again, and
 * one line of the log and of osier status says what is wrong. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <arpa/inet.h>
#include <cmocka.h>
#include <microhttpd.h>
#include <signal.h>
#include <string.h>

#include "tests/support/certificates.h"
#include "tests/support/folder.h"
#include "tests/support/json_look.h"
#include "tests/support/rough_site.h"

enum { DAY_S = 24 * 3600 };

typedef struct {
    char *folder;
    Issuer *issuer;
    StandIn *post; /* the mail server, and a text gateway without TLS */
    int port;      /* of the text gateway, one after the other */
    struct MHD_Daemon *server;
    gint requests;
    Site *site;
    char *ada;
} World;

static int64_t now_s(void)
{
    return g_get_real_time() / G_USEC_PER_SEC;
}

/* --- who answers --- */

static enum MHD_Result accept_all(void *cls, struct MHD_Connection *connection, const char *url,
                                  const char *method, const char *version, const char *data,
                                  size_t *size, void **context)
{
    static const char BODY[] = "{\"sid\":\"SM1\"}";
    World *world = cls;

    (void)url;
    (void)method;
    (void)version;
    (void)data;
    if (*context == NULL) { /* the head of a request */
        *context = world;
        return MHD_YES;
    }
    if (*size > 0) {
        *size = 0;
        return MHD_YES;
    }
    g_atomic_int_inc(&world->requests);
    struct MHD_Response *response =
        MHD_create_response_from_buffer(sizeof BODY - 1, (void *)BODY, MHD_RESPMEM_PERSISTENT);
    MHD_add_response_header(response, "Content-Type", "application/json");
    enum MHD_Result result = MHD_queue_response(connection, MHD_HTTP_CREATED, response);
    MHD_destroy_response(response);
    return result;
}

static void serve_as(World *world, Identity identity)
{
    const struct sockaddr_in loopback = {.sin_family = AF_INET,
                                         .sin_port = htons((uint16_t)world->port),
                                         .sin_addr.s_addr = htonl(INADDR_LOOPBACK)};

    if (world->server != NULL) MHD_stop_daemon(world->server);
    world->server =
        MHD_start_daemon(MHD_USE_TLS | MHD_USE_INTERNAL_POLLING_THREAD, 0, NULL, NULL, accept_all,
                         world, MHD_OPTION_SOCK_ADDR, &loopback, MHD_OPTION_LISTENING_ADDRESS_REUSE,
                         1U, MHD_OPTION_HTTPS_MEM_KEY, identity.key, MHD_OPTION_HTTPS_MEM_CERT,
                         identity.certificate, MHD_OPTION_END);
    assert_non_null(world->server);
    world->port = MHD_get_daemon_info(world->server, MHD_DAEMON_INFO_BIND_PORT)->port;
    identity_clear(&identity);
}

/* --- the clinic --- */

static int world_new(void **state)
{
    World *world = g_new0(World, 1);

    world->folder = folder_new();
    world->issuer = issuer_new();
    world->post = stand_in_new(speech_map(SPEAKS_FORM));
    folder_write(world->folder, "trusted.pem", issuer_pem(world->issuer), -1, 0600);
    g_autofree char *trusted = g_build_filename(world->folder, "trusted.pem", NULL);
    g_setenv("OSIER_CA_FILE", trusted, TRUE);
    *state = world;
    return 0;
}

static int world_end(void **state)
{
    World *world = *state;

    g_free(world->ada);
    if (world->site != NULL) site_free(world->site);
    if (world->server != NULL) MHD_stop_daemon(world->server);
    stand_in_free(world->post);
    issuer_free(world->issuer);
    g_unsetenv("OSIER_CA_FILE");
    folder_remove(world->folder);
    g_free(world);
    return 0;
}

/* A clinic whose texts go to that address, and somebody who is to be asked at 08:30. */
static void open_clinic(World *world, const char *url)
{
    g_autofree char *plain =
        g_strdup_printf("url: http://127.0.0.1:%d/send", stand_in_port(world->post));
    g_autofree char *own = g_strconcat("url: ", url, NULL);

    world->site = site_new();
    site_use(world->site, world->post, SPEAKS_FORM, site_free_port());
    site_replace(world->site, plain, own);
    site_replace(world->site, "kind: http-sms\n", "kind: http-sms\n    answer: 5s\n");
    assert_int_equal(site_start(world->site, "2026-03-02T08:20:00Z"), 0);
    world->ada = site_client(world->site, "+442079460001", "08:30");
}

static void to(World *world, const char *instant)
{
    assert_true(site_clock(world->site, instant));
}

/* One line of the log tells of it, with those words. */
static void log_says_once(World *world, const char *event, const char *words)
{
    g_autofree char *said = site_said(world->site);
    const char *line = strstr(said, event);

    if (line == NULL) fail_msg("no %s in: %s", event, said);
    g_autofree char *one = g_strndup(line, strcspn(line, "\n"));
    if (strstr(one, words) == NULL) fail_msg("'%s' does not say '%s'", one, words);
    if (strstr(line + 1, event) != NULL) fail_msg("said twice: %s", said);
}

static void status_says(World *world, const char *words)
{
    g_autofree char *status = site_told(world->site, "status");

    if (strstr(status, words) == NULL) fail_msg("'%s' is not in: %s", words, status);
}

static void reminder_is(World *world, const char *fate)
{
    json_t *messages = site_ask(world->site, "messages --client %s", world->ada);

    look_is(look_only(messages, "kind", "reminder"), "fate", fate);
    json_decref(messages);
}

static Identity true_identity(World *world)
{
    return host_identity_make(world->issuer, "localhost", now_s() - DAY_S, now_s() + DAY_S);
}

/* A stranger answers from 08:20 to 09:00; then the gateway itself. */
static void met_by(World *world, Identity stranger, const char *words)
{
    serve_as(world, stranger);
    g_autofree char *url = g_strdup_printf("https://localhost:%d/send", world->port);
    open_clinic(world, url);
    to(world, "2026-03-02T09:00:00Z");
    assert_int_equal(g_atomic_int_get(&world->requests), 0);
    reminder_is(world, "waiting");
    log_says_once(world, "event=gateway.unreached", words);
    log_says_once(world, "event=gateway.sick", words);
    status_says(world, words);
    serve_as(world, true_identity(world));
    to(world, "2026-03-02T09:20:00Z");
    reminder_is(world, "accepted");
    assert_true(g_atomic_int_get(&world->requests) >= 2); /* welcome and reminder */
}

static void a_certificate_of_another_name(void **state)
{
    World *world = *state;

    met_by(world,
           host_identity_make(world->issuer, "elsewhere.example", now_s() - DAY_S, now_s() + DAY_S),
           "target host name");
}

static void a_certificate_that_has_run_out(void **state)
{
    World *world = *state;

    met_by(world,
           host_identity_make(world->issuer, "localhost", now_s() - 2 * DAY_S, now_s() - DAY_S),
           "certificate has expired");
}

static void a_certificate_that_nobody_vouches_for(void **state)
{
    World *world = *state;

    met_by(world, host_identity_make(NULL, "localhost", now_s() - DAY_S, now_s() + DAY_S),
           "self-signed certificate");
}

static void a_certificate_that_is_in_order(void **state)
{
    World *world = *state;

    serve_as(world, true_identity(world));
    g_autofree char *url = g_strdup_printf("https://localhost:%d/send", world->port);
    open_clinic(world, url);
    to(world, "2026-03-02T08:31:00Z");
    reminder_is(world, "accepted");
    assert_int_equal(g_atomic_int_get(&world->requests), 2);
}

/* RFC 2606 keeps .invalid free of names. Mail still gets out, so it is not the clinic's line. */
static void a_name_that_leads_nowhere(void **state)
{
    World *world = *state;

    open_clinic(world, "http://gateway.invalid/send");
    to(world, "2026-03-02T09:00:00Z");
    reminder_is(world, "waiting");
    log_says_once(world, "event=gateway.unreached", "gateway.invalid");
    log_says_once(world, "event=gateway.sick", "gateway.invalid");
    json_t *status = site_ask(world->site, "status");
    look_json(json_object_get(status, "line"), "{\"down\":false}");
    json_decref(status);
    status_says(world, "gateway.invalid");
    json_t *alerts = site_ask(world->site, "alerts");
    assert_int_equal(look_count(alerts, "kind", "gateway"), 1);
    json_decref(alerts);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(a_certificate_that_is_in_order, world_new, world_end),
        cmocka_unit_test_setup_teardown(a_certificate_of_another_name, world_new, world_end),
        cmocka_unit_test_setup_teardown(a_certificate_that_has_run_out, world_new, world_end),
        cmocka_unit_test_setup_teardown(a_certificate_that_nobody_vouches_for, world_new,
                                        world_end),
        cmocka_unit_test_setup_teardown(a_name_that_leads_nowhere, world_new, world_end),
    };

    signal(SIGPIPE, SIG_IGN);
    return cmocka_run_group_tests(tests, NULL, NULL);
}
