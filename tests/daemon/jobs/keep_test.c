/* SPDX-License-Identifier: Apache-2.0 */
/* The clinic keeps words for two years: what became of a reply by then decides whether its words go. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <string.h>

#include "adapters/store/find_access.h"
#include "adapters/store/find_record.h"
#include "adapters/store/find_work.h"
#include "adapters/store/store_sqlite.h"
#include "daemon/control/handlers.h"
#include "daemon/jobs/alert.h"
#include "daemon/jobs/erase.h"
#include "daemon/jobs/keep.h"
#include "daemon/jobs/reply.h"
#include "daemon/jobs/schedule.h"
#include "tests/support/folder.h"
#include "tests/support/ledger_rebuild.h"
#include "tests/support/scene.h"

#define TWO_YEARS "  keep_words_years: 2\n  keep_looks_years: 1\n"
#define SUNDAY "2026-03-01T10:00:00Z"
#define MONDAY "2026-03-02T09:00:00Z" /* the session of 08:30 was asked */
#define LATER "2028-04-01T02:40:00Z"  /* the night in which the month begins */
#define ADA "+447700900101"
#define STRANGER "+447700900199"

typedef struct {
    Scene *scene;
    char *client;
    const char *text;
    const char *from;
    Vault *vault; /* of who erases somebody */
    bool found;
} Keeping;

static bool enrol(Job *job, void *context)
{
    Keeping *keeping = context;

    keeping->client = scene_call(job, handle_client_add, NULL,
                                 json_pack("{s:s, s:s, s:s}", "name", "Ada N.", "phone", ADA,
                                           "consent", "sms: signed form, R. Okafor, 2020-01-31"));
    g_free(scene_call(job, handle_screen, keeping->client,
                      json_pack("{s:s, s:s, s:b}", "by", "R. Okafor", "floor", "yes", "clear", 1)));
    g_free(scene_call(job, handle_plan_set, keeping->client,
                      json_pack("{s:s, s:s, s:s, s:s}", "programme", "calf-and-hamstring", "at",
                                "08:30", "start", "2026-03-02", "stage", "lower-hamstring")));
    look_note(job->tx, "R. Okafor", keeping->client, false, "GET /clients");
    keep_schedule(job);
    return true;
}

static bool ask(Job *job, void *context)
{
    schedule_overdue(job, ((const Keeping *)context)->client);
    return true;
}

static bool hear(Job *job, void *context)
{
    const Keeping *keeping = context;
    Incoming incoming = {
        .from = (char *)keeping->from, .text = (char *)keeping->text, .at_ms = job->now_ms};

    assert_true(reply_store(job, "texts", CHANNEL_SMS, &incoming));
    assert_int_equal(reply_read_stored(job, 10), 1);
    return true;
}

static void says(Keeping *keeping, const char *from, const char *text)
{
    keeping->from = from;
    keeping->text = text;
    scene_at(keeping->scene, MONDAY, hear, keeping);
}

static void *keeping_new(const char *more)
{
    Keeping *keeping = g_new0(Keeping, 1);

    keeping->scene = scene_new(more, SUNDAY);
    scene_at(keeping->scene, SUNDAY, enrol, keeping);
    scene_at(keeping->scene, MONDAY, ask, keeping);
    return keeping;
}

static void keeping_free(Keeping *keeping)
{
    scene_free(keeping->scene);
    g_free(keeping->client);
    g_free(keeping);
}

/* --- what is still there --- */

static bool look_for(Job *job, void *context)
{
    Keeping *keeping = context;
    g_autofree char *dump = tx_dump(job->tx);

    keeping->found = strstr(dump, keeping->text) != NULL;
    return true;
}

static bool note_found(const Event *event, void *context)
{
    Keeping *keeping = context;

    keeping->found |= event->body != NULL && strstr(event->body, keeping->text) != NULL;
    return true;
}

static bool look_in_ledger(Job *job, void *context)
{
    tx_events(job->tx, "", note_found, context, "");
    return true;
}

static bool has(Keeping *keeping, const char *word)
{
    keeping->text = word;
    keeping->found = false;
    scene_at(keeping->scene, LATER, look_in_ledger, keeping);
    bool in_ledger = keeping->found;
    scene_at(keeping->scene, LATER, look_for, keeping);
    assert_int_equal(in_ledger, keeping->found);
    return in_ledger;
}

static bool look_in_replies(Job *job, void *context)
{
    tx_events(job->tx, "kind = ?1", note_found, context, "t", "reply.received");
    return true;
}

/* In what was written, word for word; an alert has its own copy of what it is about. */
static bool has_reply(Keeping *keeping, const char *word)
{
    keeping->text = word;
    keeping->found = false;
    scene_at(keeping->scene, LATER, look_in_replies, keeping);
    return keeping->found;
}

static bool let_go(Job *job, void *context)
{
    (void)context;
    assert_true(due_is_set(job->tx, "keep", "words"));
    keep_meet(job, job->now_ms);
    assert_true(due_is_set(job->tx, "keep", "words"));
    return true;
}

static bool tables_are_what_the_ledger_gives(Job *job, void *context)
{
    g_autofree char *dump = tx_dump(job->tx);
    g_autofree char *sorted = ledger_sorted(dump);
    g_autofree char *rebuilt = ledger_rebuilt(job->tx);

    (void)context;
    assert_string_equal(sorted, rebuilt);
    return true;
}

static bool the_report_is_there(Job *job, void *context)
{
    const Keeping *keeping = context;
    g_autoptr(GPtrArray) reports = find_reports(job->tx, keeping->client, 0, INT64_MAX);

    assert_int_equal(reports->len, 1);
    assert_string_equal(row_text(reports->pdata[0], REPORT_DONE), "yes");
    return true;
}

static bool close_the_alert(Job *job, void *context)
{
    const Keeping *keeping = context;
    g_autoptr(GPtrArray) alerts = find_alerts(job->tx, keeping->client, false);
    const char *why;

    assert_int_equal(alerts->len, 1);
    assert_true(alert_close(job, row_text(alerts->pdata[0], ALERT_ID), "refer", "R. Okafor",
                            "seen at home", &why));
    return true;
}

static bool no_look_is_left(Job *job, void *context)
{
    g_autoptr(GPtrArray) looks = find_looks(job->tx, NULL, 0, 10);

    (void)context;
    assert_int_equal(looks->len, 0);
    return true;
}

static void a_reply_that_was_read_keeps_its_report_alone(void **state)
{
    Keeping *keeping = keeping_new(TWO_YEARS);

    (void)state;
    says(keeping, ADA, "did them, a 4, no pain, in the marmaladeroom");
    scene_at(keeping->scene, "2028-03-01T12:00:00Z", let_go, keeping);
    assert_true(has(keeping, "marmaladeroom")); /* a day short of two years */
    scene_at(keeping->scene, LATER, let_go, keeping);
    assert_false(has(keeping, "marmaladeroom"));
    scene_at(keeping->scene, LATER, the_report_is_there, keeping);
    scene_at(keeping->scene, LATER, tables_are_what_the_ledger_gives, keeping);
    scene_at(keeping->scene, LATER, no_look_is_left, keeping);
    keeping_free(keeping);
}

/* What was due is what the row said; the clock says two years later, all at once. */
static bool leap(Job *job, void *context)
{
    g_autoptr(Row) due = due_get(job->tx, "keep", "words");

    (void)context;
    keep_meet(job, row_int(due, DUE_AT));
    keep_looks(job, row_int(due, DUE_AT));
    assert_true(due_is_set(job->tx, "keep", "words"));
    return true;
}

static bool a_look_is_left(Job *job, void *context)
{
    g_autoptr(GPtrArray) looks = find_looks(job->tx, NULL, 0, 10);

    (void)context;
    assert_int_equal(looks->len, 1);
    return true;
}

static void a_clock_that_leaps_years_takes_nothing(void **state)
{
    Keeping *keeping = keeping_new(TWO_YEARS);

    (void)state;
    says(keeping, ADA, "did them, a 4, no pain, in the marmaladeroom");
    scene_at(keeping->scene, "2036-04-07T09:00:00Z", leap, keeping);
    assert_true(has(keeping, "marmaladeroom"));
    scene_at(keeping->scene, LATER, a_look_is_left, keeping);
    keeping_free(keeping);
}

/* Under the id 7, which the gateway gives out again when it counts anew. */
static bool store_seventh(Job *job, const Keeping *keeping, int64_t at_ms)
{
    Incoming incoming = {.id = (char *)"7",
                         .from = (char *)keeping->from,
                         .text = (char *)keeping->text,
                         .at_ms = at_ms};

    return reply_store(job, "texts", CHANNEL_SMS, &incoming);
}

static bool hear_seventh(Job *job, void *context)
{
    assert_true(store_seventh(job, context, job->now_ms - 1000));
    assert_int_equal(reply_read_stored(job, 10), 1);
    return true;
}

static bool hear_again(Job *job, void *context)
{
    int64_t came_ms;

    assert_true(instant_parse(MONDAY, &came_ms));
    assert_false(store_seventh(job, context, came_ms - 1000));
    assert_int_equal(reply_read_stored(job, 10), 0);
    return true;
}

/* The words of the seventh text are gone. */
static Keeping *keeping_seventh(void)
{
    Keeping *keeping = keeping_new(TWO_YEARS);

    keeping->from = ADA;
    keeping->text = "I fell in the saffronhall";
    scene_at(keeping->scene, MONDAY, hear_seventh, keeping);
    scene_at(keeping->scene, MONDAY, close_the_alert, keeping);
    scene_at(keeping->scene, LATER, let_go, keeping);
    assert_false(has(keeping, "saffronhall"));
    return keeping;
}

static void what_lost_its_words_is_not_taken_for_new(void **state)
{
    Keeping *keeping = keeping_seventh();

    (void)state;
    scene_at(keeping->scene, LATER, hear_again, keeping);
    keeping_free(keeping);
}

/* A text of today under an id whose words of years ago are gone: a sign in it is not lost. Told again it is the same. */
static bool hear_another(Job *job, void *context)
{
    assert_true(hear_seventh(job, context));
    assert_false(store_seventh(job, context, job->now_ms - 1000));
    return true;
}

static void a_sign_under_the_id_of_what_lost_its_words_is_not_lost(void **state)
{
    Keeping *keeping = keeping_seventh();

    (void)state;
    keeping->text = "I have chest pain";
    scene_at(keeping->scene, LATER, hear_another, keeping);
    assert_true(has(keeping, "chest pain"));
    keeping_free(keeping);
}

/* Nobody can say whether it is the old one: a person decides, and a sign is acted on. */
static bool hear_without_time(Job *job, void *context)
{
    assert_true(store_seventh(job, context, -1));
    assert_int_equal(reply_read_stored(job, 10), 1);
    assert_false(store_seventh(job, context, -1));
    g_autoptr(GPtrArray) unread = find_replies(job->tx, NULL, "unread", 0);
    g_autoptr(GPtrArray) alerts = find_alerts(job->tx, NULL, false);
    assert_int_equal(unread->len, 1);
    assert_int_equal(alerts->len, 1);
    return true;
}

static void without_a_time_it_goes_to_a_person(void **state)
{
    Keeping *keeping = keeping_seventh();

    (void)state;
    keeping->text = "I have chest pain";
    scene_at(keeping->scene, LATER, hear_without_time, keeping);
    keeping_free(keeping);
}

/* An erasure ends never: what the gateway lists of it once more stays away. */
static bool erase_her(Job *job, void *context)
{
    const Keeping *keeping = context;
    g_autoptr(Person) person = person_load(job, keeping->client);

    job->vault = keeping->vault;
    assert_true(erase_client(job, person, "R. Okafor", "asked in writing"));
    return true;
}

static bool hear_nothing(Job *job, void *context)
{
    job->vault = ((Keeping *)context)->vault;
    assert_false(store_seventh(job, context, -1));
    return true;
}

/* She comes back, and nobody can say whether this is the old one. */
static bool hear_her_again(Job *job, void *context)
{
    Keeping *keeping = context;

    job->vault = keeping->vault;
    g_free(keeping->client);
    keeping->client = scene_call(job, handle_client_add, NULL,
                                 json_pack("{s:s, s:s, s:s, s:s}", "name", "Ada N.", "phone", ADA,
                                           "consent", "sms: signed form, R. Okafor, 2028-03-31",
                                           "returned", "signed a new form"));
    assert_true(store_seventh(job, keeping, -1));
    assert_int_equal(reply_read_stored(job, 10), 1);
    g_autoptr(GPtrArray) alerts = find_alerts(job->tx, keeping->client, false);
    assert_int_equal(alerts->len, 1);
    return true;
}

static void who_was_erased_is_heard_once_she_came_back(void **state)
{
    Keeping *keeping = keeping_new(TWO_YEARS);
    char *folder = folder_new();
    Random *random = random_seeded_new(1);

    (void)state;
    keeping->vault = vault_new(folder, random);
    keeping->from = ADA;
    keeping->text = "I have chest pain";
    scene_at(keeping->scene, MONDAY, hear_seventh, keeping);
    scene_at(keeping->scene, MONDAY, close_the_alert, keeping);
    scene_at(keeping->scene, LATER, erase_her, keeping);
    scene_at(keeping->scene, LATER, hear_nothing, keeping);
    scene_at(keeping->scene, LATER, hear_her_again, keeping);
    vault_free(keeping->vault);
    random_free(random);
    folder_remove(folder);
    keeping_free(keeping);
}

static void a_reply_that_waits_for_a_person_is_kept(void **state)
{
    Keeping *keeping = keeping_new(TWO_YEARS);

    (void)state;
    says(keeping, STRANGER, "who is this, from the zinniashop");
    scene_at(keeping->scene, LATER, let_go, keeping);
    assert_true(has(keeping, "zinniashop"));
    keeping_free(keeping);
}

static void a_reply_that_an_open_alert_is_about_goes_with_its_end(void **state)
{
    Keeping *keeping = keeping_new(TWO_YEARS);

    (void)state;
    says(keeping, ADA, "done, 4, pain 8, as in the tangerineaisle");
    scene_at(keeping->scene, LATER, let_go, keeping);
    assert_true(has_reply(keeping, "tangerineaisle"));
    scene_at(keeping->scene, LATER, close_the_alert, keeping);
    scene_at(keeping->scene, "2028-05-01T02:40:00Z", let_go, keeping);
    assert_false(has(keeping, "tangerineaisle"));
    scene_at(keeping->scene, LATER, tables_are_what_the_ledger_gives, keeping);
    keeping_free(keeping);
}

static bool send_digest(Job *job, void *context)
{
    (void)context;
    tx_append(job->tx, "message.settled", "clinic", "osier", NULL,
              json_pack("{s:s, s:s, s:s, s:s, s:s, s:s, s:I, s:I}", "message", "D1", "kind",
                        "digest", "to", "desk@clinic.example", "channel", "email", "text",
                        "Ada N. of the plumhall: 7 of 7 done", "fate", "accepted", "at",
                        (json_int_t)job->now_ms, "fate_at", (json_int_t)job->now_ms));
    return true;
}

static void a_digest_of_two_years_ago_names_nobody(void **state)
{
    Keeping *keeping = keeping_new(TWO_YEARS);

    (void)state;
    scene_at(keeping->scene, MONDAY, send_digest, keeping);
    scene_at(keeping->scene, "2028-03-01T12:00:00Z", let_go, keeping);
    assert_true(has(keeping, "plumhall"));
    scene_at(keeping->scene, LATER, let_go, keeping);
    assert_false(has(keeping, "plumhall"));
    scene_at(keeping->scene, LATER, tables_are_what_the_ledger_gives, keeping);
    keeping_free(keeping);
}

static bool nothing_is_due(Job *job, void *context)
{
    (void)context;
    assert_false(due_is_set(job->tx, "keep", "words"));
    keep_meet(job, job->now_ms);
    assert_false(due_is_set(job->tx, "keep", "words"));
    return true;
}

static void a_clinic_that_says_nothing_keeps_everything(void **state)
{
    Keeping *keeping = keeping_new("");

    (void)state;
    says(keeping, ADA, "did them, a 4, no pain, in the marmaladeroom");
    scene_at(keeping->scene, LATER, nothing_is_due, keeping);
    assert_true(has(keeping, "marmaladeroom"));
    keeping_free(keeping);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_reply_that_was_read_keeps_its_report_alone),
        cmocka_unit_test(a_clock_that_leaps_years_takes_nothing),
        cmocka_unit_test(what_lost_its_words_is_not_taken_for_new),
        cmocka_unit_test(a_sign_under_the_id_of_what_lost_its_words_is_not_lost),
        cmocka_unit_test(without_a_time_it_goes_to_a_person),
        cmocka_unit_test(who_was_erased_is_heard_once_she_came_back),
        cmocka_unit_test(a_reply_that_waits_for_a_person_is_kept),
        cmocka_unit_test(a_reply_that_an_open_alert_is_about_goes_with_its_end),
        cmocka_unit_test(a_digest_of_two_years_ago_names_nobody),
        cmocka_unit_test(a_clinic_that_says_nothing_keeps_everything),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
