/* SPDX-License-Identifier: Apache-2.0 */
/* Whatever keeps them, the same events give the same tables and every question the same answer: a store on SQLite is asked
 * beside one on PostgreSQL, on histories drawn from a seed. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include "adapters/store/find.h"
#include "adapters/store/find_access.h"
#include "adapters/store/find_day.h"
#include "adapters/store/find_export.h"
#include "adapters/store/find_people.h"
#include "adapters/store/find_practice.h"
#include "adapters/store/find_record.h"
#include "adapters/store/find_route.h"
#include "adapters/store/find_standing.h"
#include "adapters/store/find_work.h"
#include "core/ledger/row.h"
#include "tests/support/ledger_tables.h"
#include "tests/support/store_bench.h"

#define HISTORIES 20
#define LONG_AGO INT64_C(0)
#define FAR_OFF INT64_C(4000000000000)

typedef struct {
    guint32 seed;
    char *subject; /* one that the history is about */
    GString *said;
} Inquiry;

/* --- writing --- */

static void put_work(Tx *tx, GRand *random, int number, const char *client)
{
    g_autoptr(Row) row = row_new(TABLE_OUTBOX);
    g_autofree char *id = g_strdup_printf("M%d", number);
    g_autofree char *to = g_strdup_printf("+4420794600%02d", g_rand_int_range(random, 0, 30));

    row_set_text(row, OUTBOX_ID, id);
    row_set_text(row, OUTBOX_CLIENT, client);
    row_set_text(row, OUTBOX_TO, to);
    row_set_text(row, OUTBOX_CHANNEL, "sms");
    row_set_text(row, OUTBOX_KIND, number % 5 == 0 ? "alert" : "reminder");
    row_set_int(row, OUTBOX_RANK, g_rand_int_range(random, 0, 4));
    row_set_text(row, OUTBOX_TEXT, "stretch, 50% of it \\ done");
    if (number % 5 == 0) row_set_text(row, OUTBOX_ALERT, "3F8A");
    row_set_int(row, OUTBOX_AT, tx_now(tx));
    row_set_text(row, OUTBOX_STATE, number % 7 == 0 ? "writing" : "waiting");
    row_set_int(row, OUTBOX_ATTEMPTS, g_rand_int_range(random, 0, 5));
    row_set_int(row, OUTBOX_NEXT_AT, tx_now(tx) + g_rand_int_range(random, 0, 3));
    if (number % 3 == 0) row_set_text(row, OUTBOX_BOUND, "texts");
    if (number % 4 == 0) row_set_int(row, OUTBOX_WROTE_AT, tx_now(tx));
    tx_put(tx, row);
}

static bool write_history(Tx *tx, void *context)
{
    Inquiry *inquiry = context;
    GRand *random = g_rand_new_with_seed(inquiry->seed);

    g_free(inquiry->subject);
    inquiry->subject = NULL;
    for (int i = 0; i < 120; i++) {
        const char *kind;
        g_autofree char *subject = NULL;
        g_autofree char *body = ledger_draw(random, &kind, &subject);

        tx_append(tx, kind, subject, "R. Okafor", NULL, json_loads(body, 0, NULL));
        if (inquiry->subject == NULL && strcmp(kind, "client.set") == 0)
            inquiry->subject = g_strdup(subject);
    }
    if (inquiry->subject == NULL) inquiry->subject = g_strdup("K7QF2M9T");
    for (int i = 0; i < 40; i++) {
        g_autofree char *key = g_strdup_printf("S%d", i);

        put_work(tx, random, i, i % 2 == 0 ? inquiry->subject : NULL);
        due_set(tx, i % 2 == 0 ? "session" : "nudge", key, tx_now(tx) + i % 5,
                i % 3 == 0 ? inquiry->subject : NULL, NULL);
        due_set(tx, "nudge", key, tx_now(tx) + i % 7, i % 3 == 1 ? inquiry->subject : NULL, "{}");
        look_note(tx, "R. Okafor", inquiry->subject, i % 2 == 0, "the page");
        receipt_keep(tx, "texts", key, "delivered", tx_now(tx));
        wrong_code_add(tx, key, "+442079460007", tx_now(tx), 1);
    }
    g_rand_free(random);
    return true;
}

/* --- asking --- */

static void say(Inquiry *inquiry, const char *what, int64_t number)
{
    g_string_append_printf(inquiry->said, "%s %" G_GINT64_FORMAT "\n", what, number);
}

static void say_text(Inquiry *inquiry, const char *what, char *text)
{
    g_string_append_printf(inquiry->said, "%s %s\n", what, text != NULL ? text : "-");
    g_free(text);
}

static void say_rows(Inquiry *inquiry, const char *what, GPtrArray *rows)
{
    say(inquiry, what, rows->len);
    for (guint i = 0; i < rows->len; i++)
        row_append_line(rows->pdata[i], inquiry->said);
    g_ptr_array_unref(rows);
}

static void say_row(Inquiry *inquiry, const char *what, Row *row)
{
    say(inquiry, what, row != NULL);
    if (row != NULL) row_append_line(row, inquiry->said);
    row_free(row);
}

static void say_texts(Inquiry *inquiry, const char *what, GPtrArray *texts)
{
    say(inquiry, what, texts->len);
    for (guint i = 0; i < texts->len; i++)
        say_text(inquiry, "", g_strdup(texts->pdata[i]));
    g_ptr_array_unref(texts);
}

static void say_day(Inquiry *inquiry, const char *what, GPtrArray *sessions)
{
    say(inquiry, what, sessions->len);
    for (guint i = 0; i < sessions->len; i++) {
        const DaySession *session = sessions->pdata[i];
        g_string_append_printf(inquiry->said, "%s %s %s %s %s %" G_GINT64_FORMAT "\n",
                               session->client, session->name, session->session, session->local,
                               session->state, session->utc_ms);
    }
    g_ptr_array_unref(sessions);
}

static void say_month(const char *month, const char *state, int count, void *context)
{
    say(context, month, count);
    say(context, state, count);
}

/* Groups come in no order. */
static void add_count(const char *state, int count, void *context)
{
    *(int64_t *)context += (int64_t)count * state[0];
}

static void ask_people(Tx *tx, Inquiry *inquiry)
{
    const char *client = inquiry->subject;
    char *id = NULL, *author = NULL;
    int64_t wall = 0;

    say_texts(inquiry, "clients", find_clients(tx));
    say_rows(inquiry, "settings", find_settings(tx, client));
    say_text(inquiry, "setting", find_setting(tx, client, "name"));
    say_text(inquiry, "base", find_setting_base(tx, client));
    say_rows(inquiry, "contacts", find_contacts(tx, client));
    say_rows(inquiry, "bars", find_bars(tx, client));
    say_row(inquiry, "screen", find_screen(tx, client));
    say_rows(inquiry, "measures", find_measures(tx, client, NULL));
    say_rows(inquiry, "measures of one", find_measures(tx, client, "calf"));
    say_rows(inquiry, "pauses", find_pauses(tx, client, LONG_AGO));
    say_rows(inquiry, "absences", find_absences(tx, client, LONG_AGO));
    say(inquiry, "since", find_setting_since(tx, client, "name"));
    say_rows(inquiry, "sessions", find_sessions(tx, client, "2000-01-01", "2100-01-01"));
    say_row(inquiry, "asked", find_asked(tx, client, FAR_OFF));
    say_rows(inquiry, "last", find_last_sessions(tx, client, 3));
    say_rows(inquiry, "outcomes", find_last_outcomes(tx, client, 3));
    say_rows(inquiry, "reports", find_reports(tx, client, LONG_AGO, FAR_OFF));
    say_rows(inquiry, "messages", find_messages(tx, client, LONG_AGO));
    say(inquiry, "started", find_started(tx, client, LONG_AGO, FAR_OFF));
    find_session_months(tx, client, say_month, inquiry);
    say(inquiry, "last event", find_last_event(tx, client, &id, &author, &wall));
    say(inquiry, "wall", wall);
    g_free(id);
    g_free(author);
    id = NULL;
    say(inquiry, "by prefix", find_client_by_prefix(tx, "k", &id));
    g_free(id);
}

static void ask_clinic(Tx *tx, Inquiry *inquiry)
{
    int64_t segments = 0, states = 0;
    double price = 0;
    Standing standing;

    say_rows(inquiry, "replies", find_replies(tx, NULL, NULL, LONG_AGO));
    say_rows(inquiry, "unread", find_replies(tx, NULL, "unread", LONG_AGO));
    say_rows(inquiry, "unread of one", find_replies(tx, inquiry->subject, "unread", LONG_AGO));
    say_rows(inquiry, "received", find_received(tx, 5));
    say_rows(inquiry, "glance", find_glance(tx));
    say(inquiry, "fingerprint", find_fingerprint(tx, "f"));
    say_rows(inquiry, "alerts", find_alerts(tx, NULL, false));
    say_rows(inquiry, "alerts of one", find_alerts(tx, inquiry->subject, true));
    say_row(inquiry, "open alert", find_open_alert(tx, inquiry->subject, "pain"));
    say_rows(inquiry, "alerts between", find_alerts_between(tx, LONG_AGO, FAR_OFF));
    say_row(inquiry, "message", find_message_by_gateway_id(tx, "texts", "1"));
    say(inquiry, "untold", find_untold(tx, "texts", LONG_AGO, FAR_OFF));
    find_cost(tx, LONG_AGO, FAR_OFF, &segments, &price);
    g_string_append_printf(inquiry->said, "cost %" G_GINT64_FORMAT " %.6f\n", segments, price);
    say_rows(inquiry, "away", find_away(tx, LONG_AGO, FAR_OFF));
    say_rows(inquiry, "nobody's", find_all_of_nobody(tx, TABLE_REPLY));
    say_day(inquiry, "day", find_day_sessions(tx, LONG_AGO, FAR_OFF, 50));
    say_day(inquiry, "coming", find_day_coming(tx, FAR_OFF, 50));
    say(inquiry, "coming", find_day_coming_count(tx, FAR_OFF));
    find_day_counts(tx, LONG_AGO, FAR_OFF, add_count, &states);
    say(inquiry, "states", states);
    find_standing(tx, &standing);
    say(inquiry, "events", standing.events);
    say(inquiry, "unread", standing.unread);
    say(inquiry, "waiting", standing.waiting);
    say(inquiry, "oldest", standing.oldest_waiting_ms);
    say(inquiry, "alerts", standing.alerts[0] + 100 * standing.alerts[1]);
    say_text(inquiry, "first replica", find_first_replica(tx));
}

static bool is_up(const Gateway *gateway, void *context)
{
    (void)gateway;
    (void)context;
    return true;
}

static void ask_route(Tx *tx, Inquiry *inquiry)
{
    Gateway texts = {.name = (char *)"texts", .kind = GATEWAY_HTTP_SMS};
    Gateway near = {.name = (char *)"near", .kind = GATEWAY_HTTP_SMS};
    Clinic clinic = {.gateways = g_ptr_array_new()};

    texts.countries = g_ptr_array_new();
    near.countries = g_ptr_array_new();
    g_ptr_array_add(near.countries, (char *)"44");
    g_ptr_array_add(clinic.gateways, &texts);
    g_ptr_array_add(clinic.gateways, &near);
    g_autoptr(Route) route = route_new(&clinic, &near, CHANNEL_SMS, is_up, NULL);
    assert_non_null(route);
    say_rows(inquiry, "routed", find_routed(tx, "sms", route, FAR_OFF, 20));
    say(inquiry, "next routed", find_next_routed(tx, "sms", route));
    say_texts(inquiry, "clients routed", find_clients_routed(tx, "sms", route, FAR_OFF, "", 20));
    say_rows(inquiry, "routed of", find_routed_of(tx, "sms", route, FAR_OFF, inquiry->subject));
    g_ptr_array_unref(texts.countries);
    g_ptr_array_unref(near.countries);
    g_ptr_array_unref(clinic.gateways);
}

static void ask_work(Tx *tx, Inquiry *inquiry)
{
    say_rows(inquiry, "due", find_due(tx, FAR_OFF, 100));
    say_rows(inquiry, "due kind", find_due_kind(tx, "nudge"));
    say(inquiry, "next due", find_next_due(tx));
    say(inquiry, "next send", find_next_send(tx, "sms"));
    say(inquiry, "set", due_is_set(tx, "nudge", "S1"));
    say_rows(inquiry, "ready", find_ready(tx, "sms", FAR_OFF, 30));
    say_rows(inquiry, "writing", find_outbox(tx, "writing"));
    say_rows(inquiry, "outbox", find_outbox_of(tx, NULL, LONG_AGO));
    say_rows(inquiry, "outbox of", find_outbox_of(tx, inquiry->subject, LONG_AGO));
    say_rows(inquiry, "calls", find_calls_waiting(tx, "3F8A", "+442079460001"));
    say(inquiry, "unsent", find_unsent_texts(tx, "3F8A"));
    say(inquiry, "wrong", find_wrong_codes(tx, "+442079460007", LONG_AGO));
    say_row(inquiry, "receipt", receipt_take(tx, "texts", "S3"));
    say_rows(inquiry, "codes", find_codes(tx, "+442079460007", "1234"));
    say_rows(inquiry, "bound", find_bound(tx));
    say(inquiry, "hurried", outbox_hurry(tx, LONG_AGO, FAR_OFF));
    say_rows(inquiry, "accounts", find_accounts(tx));
    say_rows(inquiry, "looks", find_looks(tx, NULL, LONG_AGO, 10));
    tx_set_meta(tx, "feed.1", "{\"client\":\"k7qf2m9t\"}");
    say(inquiry, "feeds", feeds_drop(tx, "K7QF2M9T"));
    say_rows(inquiry, "due", find_due(tx, FAR_OFF, 100));
}

static bool ask_all(Tx *tx, void *context)
{
    Inquiry *inquiry = context;
    g_autofree char *dump = tx_dump(tx);

    g_string_append(inquiry->said, dump);
    ask_people(tx, inquiry);
    ask_clinic(tx, inquiry);
    ask_route(tx, inquiry);
    ask_work(tx, inquiry);
    return true;
}

static char *answers_of(BenchSort sort, guint32 seed)
{
    Bench *bench = bench_open(sort);
    Inquiry inquiry = {.seed = seed, .said = g_string_new(NULL)};

    assert_int_equal(bench_do(bench, write_history, &inquiry), STORE_OK);
    assert_int_equal(bench_do(bench, ask_all, &inquiry), STORE_OK);
    bench_close(bench);
    g_free(inquiry.subject);
    return g_string_free(inquiry.said, FALSE);
}

static void every_question_has_the_same_answer(void **state)
{
    (void)state;
    for (guint32 seed = 1; seed <= HISTORIES; seed++) {
        g_autofree char *sqlite = answers_of(BENCH_SQLITE, seed);
        g_autofree char *postgres = answers_of(BENCH_POSTGRES, seed);

        if (strcmp(sqlite, postgres) == 0) continue;
        g_auto(GStrv) a = g_strsplit(sqlite, "\n", -1), b = g_strsplit(postgres, "\n", -1);
        for (int i = 0; a[i] != NULL && b[i] != NULL; i++)
            if (strcmp(a[i], b[i]) != 0)
                fail_msg("seed %u, line %d: SQLite says %s, PostgreSQL %s", seed, i, a[i], b[i]);
        fail_msg("seed %u: one says more", seed);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(every_question_has_the_same_answer)};

    return cmocka_run_group_tests(tests, NULL, NULL);
}
