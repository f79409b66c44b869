/* SPDX-License-Identifier: Apache-2.0 */
/* One click in a mail program ends mail (RFC 8058): what a mail's head offers, what following it does, and what does nothing. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <curl/curl.h>
#include <string.h>

#include "adapters/mail/compose.h"
#include "adapters/mail/parts.h"
#include "tests/support/json_look.h"
#include "tests/support/post_box.h"
#include "tests/support/site_gateway.h"

#define HOST "page.clinic.example"
#define ADA "ada@client.example"

enum { PATIENCE = 20000 };

static const char SETTINGS[] =
    "clinic:\n"
    "  name: Saltmarsh <Lane> & Sons\n"
    "  zone: Europe/London\n"
    "  language: en\n"
    "  phone: \"+442079460100\"\n"
    "  emergency: \"999\"\n"
    "  country_code: \"44\"\n"
    "  hours: {mon-fri: \"08:30-17:30\"}\n"
    "  quiet: 21:00-08:00\n"
    "  digest: {day: monday, at: \"08:00\", to: [desk@clinic.example]}\n"
    "duty: [{name: R. Okafor, sms: \"+442079460190\", email: rok@clinic.example}]\n"
    "page: {listen: \"127.0.0.1:%d\"%s}\n"
    "gateways:\n"
    "  post: {kind: mail, from: sessions@clinic.example, smtp: {url: \"smtp://127.0.0.1:%d\"},\n"
    "         imap: {url: \"imap://127.0.0.1:%d/INBOX\", user: sessions, password: "
    "\"{secret:key}\", every: 30min}}\n"
    "  texts: {kind: spool}\n";

typedef struct {
    Site *site;
    StandIn *mails;
    PostBox *box;
    int port;
    char *ada;
} House;

static const char PUBLIC[] = ", url: \"https://" HOST "\"";

static House house_open(const char *url, bool account)
{
    House house = {.site = site_new(),
                   .mails = stand_in_new(speech_map(SPEAKS_JSON)),
                   .box = post_box_new(),
                   .port = site_free_port()};
    g_autofree char *yaml = g_strdup_printf(
        SETTINGS, house.port, url, stand_in_smtp_port(house.mails), post_box_port(house.box));

    site_secret(house.site, "key", "key-for-tests\n");
    site_settings(house.site, yaml);
    assert_int_equal(site_start(house.site, "2026-03-02T08:05:00Z"), 0);
    if (account) json_decref(site_ask(house.site, "account add 'R. Okafor' --role clinician"));
    house.ada = site_mail_client(house.site, ADA, "08:30");
    return house;
}

static void house_close(House *house)
{
    g_free(house->ada);
    site_free(house->site);
    stand_in_free(house->mails);
    post_box_free(house->box);
}

/* The last mail to her (g_bytes_unref). */
static GBytes *last_mail(const House *house)
{
    for (int i = stand_in_mails(house->mails) - 1; i >= 0; i--) {
        const StandInSend *mail = stand_in_mail(house->mails, i);
        if (strcmp(mail->to, ADA) == 0) return g_bytes_new(mail->text, strlen(mail->text));
    }
    fail_msg("no mail went to her");
    return NULL;
}

static char *header_of_last(const House *house, const char *name)
{
    g_autoptr(GBytes) mail = last_mail(house);

    return mail_header(mail, name);
}

/* The link of the last mail, which mail programs are told to post to (RFC 8058 section 3.1). */
static char *link_of_last(const House *house)
{
    g_autofree char *post = header_of_last(house, "List-Unsubscribe-Post");
    g_autofree char *head = header_of_last(house, "List-Unsubscribe");
    g_autofree char *client =
        g_strdup_printf("<https://" HOST "/unsubscribe/email/%s/", house->ada);

    assert_string_equal(post, "List-Unsubscribe=One-Click");
    assert_true(g_str_has_prefix(head, client));
    assert_non_null(strstr(head, ">, <mailto:sessions@clinic.example?subject=STOP&body=STOP>"));
    return g_strndup(head + 1, strcspn(head + 1, ">"));
}

static size_t keep(char *bytes, size_t size, size_t n, void *context)
{
    g_string_append_len(context, bytes, (gssize)(size * n));
    return size * n;
}

/* At this machine, as a mail program asks: no cookie, no Origin, a form. The status, and what was answered (g_free). */
static long follow(const House *house, const char *method, const char *link, char **answered)
{
    g_autofree char *url =
        g_strdup_printf("http://127.0.0.1:%d%s", house->port, strstr(link, HOST) + strlen(HOST));
    g_autoptr(GString) heard = g_string_new(NULL);
    struct curl_slist *list = curl_slist_append(NULL, "Host: " HOST);
    CURL *curl = curl_easy_init();
    long status = 0;

    curl_easy_setopt(curl, CURLOPT_URL, url);
    curl_easy_setopt(curl, CURLOPT_HTTPHEADER, list);
    if (strcmp(method, "POST") == 0)
        curl_easy_setopt(curl, CURLOPT_POSTFIELDS, "List-Unsubscribe=One-Click");
    else
        curl_easy_setopt(curl, CURLOPT_CUSTOMREQUEST, method);
    curl_easy_setopt(curl, CURLOPT_WRITEFUNCTION, keep);
    curl_easy_setopt(curl, CURLOPT_WRITEDATA, heard);
    curl_easy_setopt(curl, CURLOPT_TIMEOUT, 60L);
    assert_int_equal(curl_easy_perform(curl), CURLE_OK);
    curl_easy_getinfo(curl, CURLINFO_RESPONSE_CODE, &status);
    curl_slist_free_all(list);
    curl_easy_cleanup(curl);
    if (answered != NULL) *answered = g_strdup(heard->str);
    return status;
}

static int kinds(const House *house, const char *kind)
{
    json_t *messages = site_ask(house->site, "messages --client %s", house->ada);
    int count = look_count(messages, "kind", kind);

    json_decref(messages);
    return count;
}

static bool consents(const House *house)
{
    json_t *client = site_ask(house->site, "client show %s", house->ada);
    g_autofree char *text = json_dumps(json_object_get(client, "consent"), JSON_COMPACT);
    bool email = strstr(text, "email") != NULL;

    json_decref(client);
    return email;
}

static void one_click_ends_mail_and_is_confirmed_once(void **state)
{
    House house = house_open(PUBLIC, true);

    (void)state;
    assert_true(site_clock(house.site, "2026-03-02T08:35:00Z"));
    assert_int_equal(kinds(&house, "reminder"), 1);
    g_autofree char *link = link_of_last(&house);
    assert_true(consents(&house));
    for (int again = 0; again < 3; again++) /* mail programs try again */
        assert_int_equal(follow(&house, "POST", link, NULL), 200);
    assert_false(consents(&house));
    assert_true(site_clock(house.site, "2026-03-04T12:00:00Z"));
    assert_int_equal(kinds(&house, "reminder"), 1);
    assert_int_equal(kinds(&house, "stopped"), 1);
    g_autoptr(GBytes) last = last_mail(&house);
    assert_non_null(strstr(g_bytes_get_data(last, NULL), "you will get no more messages from us"));
    json_t *alerts = site_ask(house.site, "alerts --all");
    assert_int_equal(look_count(alerts, "kind", "stopped"), 1);
    json_decref(alerts);
    house_close(&house);
}

/* Programs that look through mail for what is bad follow every link in it. */
static void looking_at_the_link_changes_nothing(void **state)
{
    static const char *const LOOKS[] = {"GET", "HEAD", "OPTIONS", "PUT", "DELETE"};
    House house = house_open(PUBLIC, true);
    g_autofree char *page = NULL, *done = NULL;

    (void)state;
    assert_true(site_clock(house.site, "2026-03-02T08:35:00Z"));
    g_autofree char *link = link_of_last(&house);
    assert_int_equal(follow(&house, "GET", link, &page), 200);
    assert_non_null(strstr(page, "<form method=\"post\">"));
    assert_non_null(strstr(page, "Saltmarsh &lt;Lane&gt; &amp; Sons"));
    assert_null(strstr(page, "Ada"));
    assert_null(strstr(page, ADA));
    for (size_t i = 1; i < G_N_ELEMENTS(LOOKS); i++)
        if (strcmp(LOOKS[i], "HEAD") != 0)
            assert_int_equal(follow(&house, LOOKS[i], link, NULL), 405);
    assert_true(consents(&house));
    assert_int_equal(kinds(&house, "stopped"), 0);
    assert_int_equal(follow(&house, "POST", link, &done), 200);
    assert_null(strstr(done, "<form"));
    assert_false(consents(&house));
    house_close(&house);
}

static void a_link_that_is_guessed_or_of_somebody_else_ends_nothing(void **state)
{
    House house = house_open(PUBLIC, true);
    g_autofree char *other = site_mail_client(house.site, "ben@client.example", "09:30");
    g_autofree char *nobody =
        g_strdup("https://" HOST "/unsubscribe/email/ZZZZZZZZ/00000000000000000000000000000000");

    (void)state;
    assert_true(site_clock(house.site, "2026-03-02T08:35:00Z"));
    g_autofree char *link = link_of_last(&house);
    const char *token = strrchr(link, '/') + 1;
    assert_int_equal(strlen(token), 32);
    g_autofree char *others =
        g_strdup_printf("https://" HOST "/unsubscribe/email/%s/%s", other, token);
    g_autofree char *cut = g_strndup(link, strlen(link) - 1);
    g_autofree char *empty = g_strndup(link, (gsize)(token - link));
    g_autofree char *turned = g_strdup(link);
    turned[strlen(turned) - 1] = turned[strlen(turned) - 1] == '0' ? '1' : '0';
    const char *const wrong[] = {others, cut, empty, turned, nobody};
    for (size_t i = 0; i < G_N_ELEMENTS(wrong); i++)
        assert_int_equal(follow(&house, "POST", wrong[i], NULL), 404);
    assert_true(consents(&house));
    int slowed = 0;
    for (int i = 0; i < 80; i++)
        slowed += follow(&house, "POST", turned, NULL) == 429;
    assert_true(slowed >= 60);
    json_decref(
        site_ask(house.site, "client erase %s --by 'R. Okafor' --why 'early: asked'", house.ada));
    /* What the tries used up of everybody's share comes back, ten a second. */
    long status = 429;
    for (int i = 0; i < PATIENCE && status == 429; i++)
        status = follow(&house, "POST", link, NULL);
    assert_int_equal(status, 404);
    house_close(&house);
}

/* She is written to by text by now: only mail's consent ends. */
static void an_old_mails_link_ends_that_channel_alone(void **state)
{
    House house = house_open(PUBLIC, true);

    (void)state;
    assert_true(site_clock(house.site, "2026-03-02T08:35:00Z"));
    g_autofree char *link = link_of_last(&house);
    json_decref(site_ask(house.site,
                         "client set %s --channel sms --phone +447700900001 --consent 'sms: by "
                         "phone, R. Okafor, 2026-03-02'",
                         house.ada));
    assert_int_equal(follow(&house, "POST", link, NULL), 200);
    assert_false(consents(&house));
    assert_true(site_clock(house.site, "2026-03-03T09:00:00Z"));
    assert_int_equal(kinds(&house, "stopped"), 0);
    assert_int_equal(kinds(&house, "reminder"), 2);
    house_close(&house);
}

static void who_writes_start_by_mail_begins_again(void **state)
{
    House house = house_open(PUBLIC, true);

    (void)state;
    assert_true(site_clock(house.site, "2026-03-02T08:35:00Z"));
    g_autofree char *link = link_of_last(&house);
    assert_int_equal(follow(&house, "POST", link, NULL), 200);
    assert_true(site_clock(house.site, "2026-03-03T09:00:00Z"));
    post_box_put(house.box,
                 "From: " ADA "\r\nTo: sessions@clinic.example\r\n"
                 "Date: Tue, 3 Mar 2026 09:00:00 +0000\r\nMessage-ID: <again@client.example>\r\n"
                 "Content-Type: text/plain; charset=utf-8\r\n\r\nSTART\r\n");
    assert_true(site_clock(house.site, "2026-03-04T09:00:00Z"));
    assert_true(consents(&house));
    assert_int_equal(kinds(&house, "reminder"), 2); /* the first day's, and the day's after */
    g_autofree char *next = link_of_last(&house);
    assert_string_equal(next, link);
    house_close(&house);
}

static void who_asks_a_person_for_the_mails_again_gets_them(void **state)
{
    House house = house_open(PUBLIC, true);

    (void)state;
    assert_true(site_clock(house.site, "2026-03-02T08:35:00Z"));
    g_autofree char *link = link_of_last(&house);
    assert_int_equal(follow(&house, "POST", link, NULL), 200);
    assert_true(site_clock(house.site, "2026-03-03T09:00:00Z"));
    json_decref(
        site_ask(house.site, "client resume %s --asked 'rang' --by 'J. Lindqvist'", house.ada));
    assert_true(consents(&house));
    assert_true(site_clock(house.site, "2026-03-04T09:00:00Z"));
    assert_int_equal(kinds(&house, "reminder"), 2);
    house_close(&house);
}

static void where_nobody_would_answer_there_is_no_link(void **state)
{
    const struct {
        const char *url;
        bool account;
    } cases[] = {{"", true}, {PUBLIC, false}};

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(cases); i++) {
        House house = house_open(cases[i].url, cases[i].account);
        assert_true(site_clock(house.site, "2026-03-02T08:35:00Z"));
        g_autofree char *post = header_of_last(&house, "List-Unsubscribe-Post");
        g_autofree char *head = header_of_last(&house, "List-Unsubscribe");
        assert_string_equal(post, "");
        assert_string_equal(head, "<mailto:sessions@clinic.example?subject=STOP&body=STOP>");
        house_close(&house);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(one_click_ends_mail_and_is_confirmed_once),
        cmocka_unit_test(looking_at_the_link_changes_nothing),
        cmocka_unit_test(a_link_that_is_guessed_or_of_somebody_else_ends_nothing),
        cmocka_unit_test(an_old_mails_link_ends_that_channel_alone),
        cmocka_unit_test(who_writes_start_by_mail_begins_again),
        cmocka_unit_test(who_asks_a_person_for_the_mails_again_gets_them),
        cmocka_unit_test(where_nobody_would_answer_there_is_no_link),
    };

    mail_start();
    return cmocka_run_group_tests(tests, NULL, NULL);
}
