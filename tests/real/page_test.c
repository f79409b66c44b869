/* SPDX-License-Identifier: Apache-2.0 */
/* The real osierd's page, asked as browsers ask and as others might: entering, rights, what is written
 * down, forged requests, and more of them than anybody needs. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <arpa/inet.h>
#include <cmocka.h>
#include <curl/curl.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/socket.h>
#include <unistd.h>

#include "tests/support/json_look.h"
#include "tests/support/site_gateway.h"

#define PASSWORD "several words make it long"

static const char SETTINGS[] = "clinic:\n"
                               "  name: Saltmarsh Lane Physiotherapy\n"
                               "  zone: Europe/London\n"
                               "  language: en\n"
                               "  phone: \"+442079460100\"\n"
                               "  emergency: \"999\"\n"
                               "  country_code: \"44\"\n"
                               "  hours: {mon-fri: \"08:30-17:30\"}\n"
                               "  quiet: 21:00-08:00\n"
                               "  digest: {day: monday, at: \"08:00\", to: [desk@clinic.example]}\n"
                               "duty:\n"
                               "  - {name: R. Okafor, sms: \"+442079460190\"}\n"
                               "  - {name: J. Lindqvist, sms: \"+442079460191\", after: 15min}\n"
                               "page: {listen: \"127.0.0.1:%d\"}\n"
                               "gateways:\n"
                               "  spool: {kind: spool}\n";

typedef struct {
    Site *site;
    int port;
    char *ada;
} House;

/* Somebody with a browser. */
typedef struct {
    House *house;
    char *cookie;
    char *token;
    long status; /* of the last call */
    GString *head;
} Guest;

static House house_open(void)
{
    House house = {.site = site_new(), .port = site_free_port()};
    g_autofree char *yaml = g_strdup_printf(SETTINGS, house.port);

    site_settings(house.site, yaml);
    assert_int_equal(site_start(house.site, "2026-03-02T08:05:00Z"), 0);
    house.ada = site_client(house.site, "+447700900001", "08:30");
    return house;
}

static void house_close(House *house)
{
    g_free(house->ada);
    site_free(house->site);
}

static size_t keep(char *bytes, size_t size, size_t n, void *context)
{
    g_string_append_len(context, bytes, (gssize)(size * n));
    return size * n;
}

/* One request; lines: NULL-ended headers beside the guest's own. The JSON answered, or NULL. */
static json_t *ask(Guest *guest, const char *method, const char *path, const char *body,
                   const char *const *lines)
{
    g_autofree char *url = g_strdup_printf("http://127.0.0.1:%d%s", guest->house->port, path);
    g_autofree char *cookie = g_strdup_printf("Cookie: osier=%s", guest->cookie);
    g_autofree char *token = g_strdup_printf("X-Osier-Token: %s", guest->token);
    g_autofree char *origin = g_strdup_printf("Origin: http://127.0.0.1:%d", guest->house->port);
    g_autoptr(GString) heard = g_string_new(NULL);
    struct curl_slist *list = curl_slist_append(NULL, "Expect:");
    CURL *curl = curl_easy_init();

    if (lines == NULL) {
        list = curl_slist_append(list, origin);
        list = curl_slist_append(list, "Content-Type: application/json");
        if (guest->token != NULL) list = curl_slist_append(list, token);
    }
    for (; lines != NULL && *lines != NULL; lines++)
        list = curl_slist_append(list, *lines);
    if (guest->cookie != NULL) list = curl_slist_append(list, cookie);
    g_string_truncate(guest->head, 0);
    curl_easy_setopt(curl, CURLOPT_URL, url);
    curl_easy_setopt(curl, CURLOPT_PATH_AS_IS, 1L);
    curl_easy_setopt(curl, CURLOPT_CUSTOMREQUEST, method);
    curl_easy_setopt(curl, CURLOPT_HTTPHEADER, list);
    curl_easy_setopt(curl, CURLOPT_WRITEFUNCTION, keep);
    curl_easy_setopt(curl, CURLOPT_WRITEDATA, heard);
    curl_easy_setopt(curl, CURLOPT_HEADERFUNCTION, keep);
    curl_easy_setopt(curl, CURLOPT_HEADERDATA, guest->head);
    curl_easy_setopt(curl, CURLOPT_NOSIGNAL, 1L);
    curl_easy_setopt(curl, CURLOPT_TIMEOUT, 60L);
    if (body != NULL) curl_easy_setopt(curl, CURLOPT_POSTFIELDS, body);
    guest->status = 0;
    if (curl_easy_perform(curl) == CURLE_OK)
        curl_easy_getinfo(curl, CURLINFO_RESPONSE_CODE, &guest->status);
    curl_slist_free_all(list);
    curl_easy_cleanup(curl);
    return json_loadb(heard->str, heard->len, JSON_DECODE_ANY, NULL);
}

static long status_of(Guest *guest, const char *method, const char *path, const char *body)
{
    json_decref(ask(guest, method, path, body, NULL));
    return guest->status;
}

static Guest stranger(House *house)
{
    return (Guest){.house = house, .head = g_string_new(NULL)};
}

static void guest_clear(Guest *guest)
{
    g_free(guest->cookie);
    g_free(guest->token);
    g_string_free(guest->head, TRUE);
}

/* Takes cookie and token from an answer that let the guest in. */
static void take_entry(Guest *guest, json_t *answer)
{
    const char *at = strstr(guest->head->str, "Set-Cookie: osier=");

    assert_int_equal(guest->status, 200);
    assert_non_null(at);
    assert_non_null(strstr(at, "HttpOnly; SameSite=Strict"));
    at += strlen("Set-Cookie: osier=");
    guest->cookie = g_strndup(at, strcspn(at, ";"));
    guest->token = look_copy(answer, "token");
    json_decref(answer);
}

/* A new account whose link was used. */
static Guest entered(House *house, const char *name, const char *role)
{
    Guest guest = stranger(house);
    json_t *account = site_ask(house->site, "account add '%s' --role %s", name, role);
    const char *link = json_string_value(json_object_get(account, "link"));
    g_autofree char *body = g_strdup_printf("{\"token\":\"%s\",\"password\":\"" PASSWORD "\"}",
                                            strstr(link, "/#/welcome/") + strlen("/#/welcome/"));

    json_decref(account);
    take_entry(&guest, ask(&guest, "POST", "/welcome", body, NULL));
    assert_int_equal(status_of(&guest, "POST", "/welcome", body), 403); /* one time is one time */
    return guest;
}

static void nobody_listens_until_somebody_may_enter(void **state)
{
    House house = house_open();
    Guest guest = stranger(&house);

    (void)state;
    assert_int_equal(status_of(&guest, "GET", "/", NULL), 0);
    site_fails(house.site, 64, "role", "account add 'R. Okafor' --role owner");
    json_decref(site_ask(house.site, "account add 'R. Okafor' --role clinician"));
    site_fails(house.site, 65, "is there already", "account add 'r. okafor' --role desk");
    while (status_of(&guest, "GET", "/", NULL) == 0)
        json_decref(site_ask(house.site, "account list"));
    assert_int_equal(guest.status, 200);
    assert_non_null(strstr(guest.head->str, "Content-Security-Policy: default-src 'none'"));
    assert_non_null(strstr(guest.head->str, "X-Content-Type-Options: nosniff"));
    /* The link stands nowhere but on the terminal. */
    g_autofree char *said = site_said(house.site);
    assert_null(strstr(said, "/welcome"));
    guest_clear(&guest);
    house_close(&house);
}

static void who_is_not_in_sees_nothing(void **state)
{
    static const char *const PATHS[] = {"/today",   "/roster", "/clients", "/messages", "/week",
                                        "/changes", "/alerts", "/status",  "/accounts", "/looks"};
    House house = house_open();
    Guest in = entered(&house, "R. Okafor", "clinician");
    Guest out = stranger(&house);

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(PATHS); i++)
        assert_int_equal(status_of(&out, "GET", PATHS[i], NULL), 401);
    out.cookie = g_strdup("AAAAAAAAAAAAAAAAAAAAAA"); /* a guess */
    assert_int_equal(status_of(&out, "GET", "/today", NULL), 401);
    assert_int_equal(status_of(&in, "GET", "/today", NULL), 200);
    assert_non_null(strstr(in.head->str, "Cache-Control: no-store"));
    assert_int_equal(status_of(&in, "GET", "/accounts", NULL), 404);
    assert_int_equal(status_of(&in, "POST", "/clock", "{\"to\":\"2027-01-01T00:00:00Z\"}"), 404);
    assert_int_equal(status_of(&in, "GET", "/clients/ZZZZZZZZ", NULL), 404);
    assert_int_equal(status_of(&in, "POST", "/session/end", "{}"), 200);
    assert_int_equal(status_of(&in, "GET", "/today", NULL), 401);
    guest_clear(&in);
    guest_clear(&out);
    house_close(&house);
}

static void a_password_lets_in_and_guesses_wait(void **state)
{
    House house = house_open();
    Guest first = entered(&house, "R. Okafor", "clinician");
    Guest guest = stranger(&house);
    const char *right = "{\"name\":\" r. OKAFOR\",\"password\":\"" PASSWORD "\"}";

    (void)state;
    take_entry(&guest, ask(&guest, "POST", "/session", right, NULL));
    const char *wrong = "{\"name\":\"R. Okafor\",\"password\":\"a wrong one, long enough\"}";
    for (int i = 0; i < 3; i++)
        assert_int_equal(status_of(&guest, "POST", "/session", wrong), 401);
    assert_int_equal(status_of(&guest, "POST", "/session", right), 429);
    const char *nobody = "{\"name\":\"N. O. Body\",\"password\":\"a wrong one, long enough\"}";
    assert_int_equal(status_of(&guest, "POST", "/session", nobody), 401);
    assert_int_equal(status_of(&guest, "POST", "/session", "{\"name\":5}"), 400);
    assert_int_equal(status_of(&guest, "POST", "/session", "no JSON"), 400);
    /* Who is in stays in. */
    assert_int_equal(status_of(&first, "GET", "/today", NULL), 200);
    guest_clear(&guest);
    guest_clear(&first);
    house_close(&house);
}

static void forged_requests_change_nothing(void **state)
{
    House house = house_open();
    Guest guest = entered(&house, "R. Okafor", "clinician");
    g_autofree char *path = g_strdup_printf("/clients/%s/pause", house.ada);
    g_autofree char *token = g_strdup_printf("X-Osier-Token: %s", guest.token);
    g_autofree char *origin = g_strdup_printf("Origin: http://127.0.0.1:%d", house.port);
    const char *const json = "Content-Type: application/json";
    const char *const without_token[] = {origin, json, NULL};
    const char *const elsewhere[] = {"Origin: http://evil.example", json, token, NULL};
    const char *const no_origin[] = {json, token, NULL};
    const char *const as_form[] = {origin, "Content-Type: text/plain", token, NULL};
    const char *const cross[] = {origin, json, token, "Sec-Fetch-Site: cross-site", NULL};
    const char *const rebound[] = {"Host: evil.example", origin, json, token, NULL};
    const char *const good[] = {origin, json, token, "Sec-Fetch-Site: same-origin", NULL};
    const struct {
        const char *const *lines;
        long status;
    } CASES[] = {{without_token, 403}, {elsewhere, 403}, {no_origin, 403}, {as_form, 415},
                 {cross, 403},         {rebound, 421},   {good, 200}};
    const char *body = "{\"until\":\"2026-03-09\",\"why\":\"away\"}";

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(CASES); i++) {
        json_decref(ask(&guest, "POST", path, body, CASES[i].lines));
        assert_int_equal(guest.status, CASES[i].status);
        json_t *client = site_ask(house.site, "client show %s", house.ada);
        look_is(client, "standing", CASES[i].status == 200 ? "paused" : "active");
        json_decref(client);
    }
    json_decref(ask(&guest, "GET", "/today", NULL, rebound));
    assert_int_equal(guest.status, 421);
    guest_clear(&guest);
    house_close(&house);
}

static void paths_lead_nowhere_else(void **state)
{
    static const struct {
        const char *path;
        long status;
    } CASES[] = {
        {"/www/../../../etc/passwd", 404},
        {"/www/%2e%2e/%2e%2e/etc/passwd", 404},
        {"/www/..%2f..%2fetc/passwd", 400},
        {"/../secrets/texts.key", 404},
        {"/clients/%00", 400},
        {"/clients/..", 404},
        {"//today", 404},
        {"/today/", 404},
        {"/clients/%25'%20OR%201=1", 404},
        {"/www/", 404},
    };
    House house = house_open();
    Guest guest = entered(&house, "R. Okafor", "clinician");

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(CASES); i++)
        assert_int_equal(status_of(&guest, "GET", CASES[i].path, NULL), CASES[i].status);
    assert_int_equal(status_of(&guest, "PUT", "/today", "{}"), 405);
    assert_int_equal(status_of(&guest, "DELETE", "/today", NULL), 405);
    g_autofree char *huge = g_strnfill(70000, ' ');
    assert_int_equal(status_of(&guest, "POST", "/session", huge), 413);
    guest_clear(&guest);
    house_close(&house);
}

static void the_desk_decides_nothing_clinical(void **state)
{
    House house = house_open();
    Guest desk = entered(&house, "P. Lowther", "desk");
    Guest clinician = entered(&house, "R. Okafor", "clinician");
    g_autofree char *base = g_strdup_printf("/clients/%s", house.ada);
    g_autofree char *move = g_strconcat(base, "/plan/move", NULL);
    g_autofree char *plan = g_strconcat(base, "/plan", NULL);
    g_autofree char *screen = g_strconcat(base, "/screen", NULL);
    g_autofree char *open = g_strconcat(base, "/alerts", NULL);
    const char *stage = "{\"stage\":\"calf-with-strap\"}";

    (void)state;
    assert_int_equal(status_of(&desk, "GET", base, NULL), 200);
    assert_int_equal(status_of(&desk, "POST", move, stage), 403);
    assert_int_equal(status_of(&desk, "POST", plan, "{\"programme\":\"calf-and-hamstring\"}"), 403);
    assert_int_equal(status_of(&desk, "POST", screen, "{\"floor\":\"yes\",\"clear\":true}"), 403);
    assert_int_equal(status_of(&desk, "POST", base, "{\"usual_pain\":6}"), 403);
    assert_int_equal(status_of(&desk, "POST", base, "{\"needs\":\"rings twice\"}"), 200);
    json_t *alert = ask(&desk, "POST", open, "{\"kind\":\"fall\",\"words\":\"she slipped\"}", NULL);
    g_autofree char *take =
        g_strdup_printf("/alerts/%s/take", json_string_value(json_object_get(alert, "alert")));
    g_autofree char *close =
        g_strdup_printf("/alerts/%s/close", json_string_value(json_object_get(alert, "alert")));
    json_decref(alert);
    assert_int_equal(status_of(&desk, "POST", take, "{\"by\":\"somebody else\"}"), 200);
    json_t *taken = site_ask(house.site, "alerts");
    look_is(json_array_get(taken, 0), "taken_by", "P. Lowther"); /* whatever the body says */
    json_decref(taken);
    assert_int_equal(status_of(&desk, "POST", close, "{\"outcome\":\"resume\"}"), 403);
    assert_int_equal(status_of(&clinician, "POST", close, "{\"outcome\":\"resume\"}"), 200);
    assert_int_equal(status_of(&clinician, "POST", move, stage), 200);
    guest_clear(&desk);
    guest_clear(&clinician);
    house_close(&house);
}

static void who_looked_and_who_changed_is_written_down(void **state)
{
    House house = house_open();
    Guest desk = entered(&house, "P. Lowther", "desk");
    g_autofree char *base = g_strdup_printf("/clients/%s", house.ada);

    (void)state;
    for (int i = 0; i < 3; i++)
        assert_int_equal(status_of(&desk, "GET", base, NULL), 200);
    assert_int_equal(status_of(&desk, "POST", base, "{\"needs\":\"rings twice\"}"), 200);
    assert_int_equal(status_of(&desk, "POST", base, "{\"channel\":\"pigeon\"}"), 400);
    json_t *looks = site_ask(house.site, "account looks --client %s", house.ada);
    assert_int_equal(json_array_size(looks), 2);
    look_json(json_array_get(looks, 0), "{\"by\":\"P. Lowther\",\"did\":\"changed\"}");
    look_json(json_array_get(looks, 1),
              "{\"by\":\"P. Lowther\",\"did\":\"looked\",\"call\":\"GET /clients/{id}\"}");
    look_is(json_array_get(looks, 1), "client", house.ada);
    json_decref(looks);
    guest_clear(&desk);
    house_close(&house);
}

static void closing_an_account_hands_over(void **state)
{
    House house = house_open();
    Guest okafor = entered(&house, "R. Okafor", "clinician");
    g_autofree char *open = g_strdup_printf("/clients/%s/alerts", house.ada);
    g_autofree char *plan = g_strdup_printf("/clients/%s/plan", house.ada);
    long status;

    (void)state;
    json_decref(site_call(house.site, "POST", plan,
                          json_pack("{s:s, s:s, s:s}", "programme", "calf-and-hamstring", "at",
                                    "08:30", "clinician", "R. Okafor"),
                          &status));
    assert_int_equal(status, 200);
    json_t *alert = ask(&okafor, "POST", open, "{\"kind\":\"fall\",\"words\":\"slipped\"}", NULL);
    g_autofree char *take =
        g_strdup_printf("/alerts/%s/take", json_string_value(json_object_get(alert, "alert")));
    json_decref(alert);
    assert_int_equal(status_of(&okafor, "POST", take, "{}"), 200);
    site_fails(house.site, 64, "1 clients and has taken 1 open", "account close 'R. Okafor'");
    site_fails(house.site, 65, "neither", "account close 'R. Okafor' --to 'N. O. Body'");
    assert_true(site_clock(house.site, "2026-03-02T08:10:00Z"));
    json_t *closed = site_ask(house.site, "account close 'R. Okafor' --to 'J. Lindqvist'");
    look_json(closed, "{\"state\":\"closed\",\"clients_moved\":1,\"alerts_moved\":1}");
    json_decref(closed);
    json_t *alerts = site_ask(house.site, "alerts");
    look_is(json_array_get(alerts, 0), "taken_by", "J. Lindqvist");
    json_decref(alerts);
    json_t *shown = site_ask(house.site, "plan show %s", house.ada);
    look_is(shown, "clinician", "J. Lindqvist");
    json_decref(shown);
    /* Nobody has an account any more, so nobody listens. */
    while (status_of(&okafor, "GET", "/today", NULL) == 200)
        json_decref(site_ask(house.site, "account list"));
    site_fails(house.site, 65, "was closed", "account add 'R. Okafor' --role clinician");
    guest_clear(&okafor);
    house_close(&house);
}

/* --- more than anybody needs --- */

static void *log_in_somehow(void *context)
{
    Guest guest = stranger(context);

    json_decref(ask(&guest, "POST", "/session",
                    "{\"name\":\"R. Okafor\",\"password\":\"" PASSWORD "\"}", NULL));
    guest_clear(&guest);
    return NULL;
}

/* Passwords are still being computed when osierd is told to stop; site_stop sees that it ends as it should. */
static void told_to_stop_while_people_log_in(void **state)
{
    House house = house_open();
    Guest guest = entered(&house, "R. Okafor", "clinician");
    GThread *threads[4];

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(threads); i++)
        threads[i] = g_thread_new("log-in", log_in_somehow, &house);
    json_decref(site_ask(house.site, "status"));
    assert_int_equal(site_stop(house.site), 0);
    for (size_t i = 0; i < G_N_ELEMENTS(threads); i++)
        g_thread_join(threads[i]);
    guest_clear(&guest);
    house_close(&house);
}

static int connect_once(int port)
{
    struct sockaddr_in address = {.sin_family = AF_INET, .sin_port = htons((uint16_t)port)};
    int fd = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);

    address.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
    if (fd >= 0 && connect(fd, (struct sockaddr *)&address, sizeof address) == 0) return fd;
    if (fd >= 0) close(fd);
    return -1;
}

/* Ten thousand connections, all of them kept open by their makers, half beside half-spoken requests: whoever asks is answered
 * meanwhile, logged in or not, and so is the socket. */
static void ten_thousand_connections(void **state)
{
    House house = house_open();
    Guest guest = entered(&house, "R. Okafor", "clinician");
    Guest passer_by = stranger(&house);
    struct rlimit files = {0};
    g_autoptr(GArray) open = g_array_new(FALSE, FALSE, sizeof(int));

    (void)state;
    getrlimit(RLIMIT_NOFILE, &files);
    files.rlim_cur = files.rlim_max;
    setrlimit(RLIMIT_NOFILE, &files);
    for (int i = 0; i < 10000; i++) {
        int fd = connect_once(house.port);
        if (fd < 0) continue;
        if (i % 2 == 0) assert_true(send(fd, "GET /today HT", 13, MSG_NOSIGNAL) != 0);
        g_array_append_val(open, fd);
        if (i % 1000 != 999) continue;
        assert_int_equal(status_of(&guest, "GET", "/today", NULL), 200);
        assert_int_equal(status_of(&passer_by, "GET", "/", NULL), 200);
        json_decref(site_ask(house.site, "status"));
    }
    assert_true(open->len > 5000);
    for (guint j = 0; j < open->len; j++)
        close(g_array_index(open, int, j));
    guest_clear(&passer_by);
    guest_clear(&guest);
    house_close(&house);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(nobody_listens_until_somebody_may_enter),
        cmocka_unit_test(who_is_not_in_sees_nothing),
        cmocka_unit_test(a_password_lets_in_and_guesses_wait),
        cmocka_unit_test(forged_requests_change_nothing),
        cmocka_unit_test(paths_lead_nowhere_else),
        cmocka_unit_test(the_desk_decides_nothing_clinical),
        cmocka_unit_test(who_looked_and_who_changed_is_written_down),
        cmocka_unit_test(closing_an_account_hands_over),
        cmocka_unit_test(told_to_stop_while_people_log_in),
        cmocka_unit_test(ten_thousand_connections),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
