/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/rehearsal/harvest.h"

#include <stdio.h>
#include <string.h>

#include "adapters/mail/parts.h"
#include "adapters/store/store_sqlite.h"

static const char *text(const json_t *object, const char *field)
{
    const char *value = json_string_value(json_object_get(object, field));

    return value != NULL ? value : "";
}

/* --- from the running osierd --- */

static void count_sessions(json_t *counts, const json_t *sessions)
{
    size_t i;
    json_t *session;

    json_array_foreach((json_t *)sessions, i, session)
    {
        const char *state = text(session, "state");
        json_int_t before = json_integer_value(json_object_get(counts, state));
        if (strcmp(state, "planned") != 0)
            json_object_set_new(counts, state, json_integer(before + 1));
    }
}

static json_t *ask_sessions(World *world, int days)
{
    static const char *const STATES[] = {"done",    "partly",  "not",  "silent",
                                         "unasked", "excused", "asked"};
    g_autofree char *from = day_format(world->from - 1);
    json_t *counts = json_object();

    for (size_t i = 0; i < G_N_ELEMENTS(STATES); i++)
        json_object_set_new(counts, STATES[i], json_integer(0));
    for (size_t i = 0; i < world->n_residents; i++) {
        g_autofree char *path = g_strdup_printf("/clients/%s/sessions?from=%s&days=%d",
                                                world->residents[i].id, from, days + 2);
        json_t *sessions = link_must(world->link, "GET", path, NULL);
        count_sessions(counts, sessions);
        json_decref(sessions);
    }
    return counts;
}

bool harvest_ask(Harvest *harvest, World *world, int days)
{
    harvest->messages = link_must(world->link, "GET", "/messages", NULL);
    harvest->alerts = link_must(world->link, "GET", "/alerts?all=1", NULL);
    harvest->replies = link_must(world->link, "GET", "/replies", NULL);
    harvest->sessions = ask_sessions(world, days);
    json_t *week = link_must(world->link, "GET", "/week?format=text", NULL);
    harvest->week = g_strdup(text(week, "page"));
    json_decref(week);
    return harvest->messages != NULL && harvest->alerts != NULL && harvest->replies != NULL &&
           week != NULL;
}

/* --- from the store --- */

typedef struct {
    Harvest *harvest;
    FILE *file;
    bool done;
} Export;

static bool write_event(const Event *event, void *context)
{
    Export *export = context;
    json_t *document = event_json(event);

    json_dumpf(document, export->file, JSON_COMPACT);
    fputc('\n', export->file);
    json_decref(document);
    export->harvest->events++;
    export->harvest->reports += strcmp(event->kind, "report.made") == 0;
    return true;
}

static bool export_job(Tx *tx, void *context)
{
    tx_events(tx, "ORDER BY replica, seq", write_event, context, "");
    return true;
}

static void export_done(StoreStatus status, void *context)
{
    (void)status;
    ((Export *)context)->done = true;
}

bool harvest_ledger(Harvest *harvest, uv_loop_t *loop, const char *store, const char *out,
                    char **why)
{
    g_autofree char *path = g_build_filename(out, "ledger.jsonl", NULL);
    Export export = {.harvest = harvest, .file = fopen(path, "w")};
    Store *opened = NULL;

    if (export.file == NULL) {
        *why = g_strdup_printf("%s cannot be written", path);
        return false;
    }
    bool good = store_sqlite_open(loop, store, STORE_REHEARSAL, "0000000000000000", 0, &opened,
                                  why) == OPEN_OK;
    if (good) {
        store_submit(opened, 0, export_job, export_done, &export);
        while (!export.done)
            uv_run(loop, UV_RUN_ONCE);
        opened->close(opened);
    }
    good = fclose(export.file) == 0 && good;
    return good;
}

/* --- files --- */

static bool write_file(const char *out, const char *name, const void *bytes, gssize length,
                       char **why)
{
    g_autofree char *path = g_build_filename(out, name, NULL);
    g_autoptr(GError) error = NULL;

    if (g_file_set_contents(path, bytes, length, &error)) return true;
    *why = g_strdup(error->message);
    return false;
}

static bool write_lines(const char *out, const char *name, const json_t *list, char **why)
{
    g_autoptr(GString) lines = g_string_new(NULL);
    size_t i;
    json_t *item;

    json_array_foreach((json_t *)list, i, item)
    {
        char *line = json_dumps(item, JSON_COMPACT);
        g_string_append_printf(lines, "%s\n", line);
        free(line);
    }
    return write_file(out, name, lines->str, (gssize)lines->len, why);
}

static bool is_digest(const Harvest *harvest, const Mail *mail)
{
    size_t i;
    json_t *message;

    json_array_foreach(harvest->messages, i, message)
    {
        if (strcmp(text(message, "kind"), "digest") == 0 &&
            strcmp(text(message, "message"), mail->id) == 0)
            return true;
    }
    return false;
}

static bool write_digests(const Harvest *harvest, const World *world, const char *out, char **why)
{
    int number = 0;

    for (guint i = 0; i < world->mails->len; i++) {
        const Mail *mail = world->mails->pdata[i];
        if (!is_digest(harvest, mail)) continue;
        gsize length;
        const void *bytes = g_bytes_get_data(mail->bytes, &length);
        g_autofree char *html = mail_part(mail->bytes, "html");
        g_autofree char *eml = g_strdup_printf("digest-%d.eml", ++number);
        g_autofree char *page = g_strdup_printf("digest-%d.html", number);
        if (!write_file(out, eml, bytes, (gssize)length, why) ||
            !write_file(out, page, html != NULL ? html : "", -1, why))
            return false;
    }
    return true;
}

bool harvest_write(const Harvest *harvest, const World *world, const char *out, int64_t end_ms,
                   char **why)
{
    json_t *summary = harvest_summary(harvest, world, end_ms);
    char *page = json_dumps(summary, JSON_INDENT(2));
    bool good = write_lines(out, "messages.jsonl", harvest->messages, why) &&
                write_lines(out, "alerts.jsonl", harvest->alerts, why) &&
                write_digests(harvest, world, out, why) &&
                write_file(out, "summary.json", page, -1, why);

    free(page);
    json_decref(summary);
    return good;
}

/* --- the summary --- */

static int count_kind(const json_t *messages, const char *kind)
{
    int count = 0;
    size_t i;
    json_t *message;

    json_array_foreach((json_t *)messages, i, message) count +=
        strcmp(text(message, "kind"), kind) == 0;
    return count;
}

static int count_unread(const json_t *replies)
{
    int count = 0;
    size_t i;
    json_t *reply;

    json_array_foreach((json_t *)replies, i, reply) count +=
        strcmp(text(reply, "state"), "unread") == 0;
    return count;
}

/* Texts that the clinic acknowledged and that its ledger does not hold. */
static int lost_replies(const Harvest *harvest, const World *world)
{
    g_autoptr(GHashTable) held = g_hash_table_new(g_str_hash, g_str_equal);
    int lost = 0;
    size_t i;
    json_t *reply;

    json_array_foreach(harvest->replies, i, reply)
        g_hash_table_add(held, (gpointer)text(reply, "gateway_id"));
    for (guint k = 0; k < world->letters->len; k++) {
        const Letter *letter = world->letters->pdata[k];
        lost += letter->arrived && !g_hash_table_contains(held, letter->id);
    }
    return lost;
}

/* Messages that should have found a fate by the end: a reminder lapses three hours after its session. */
static int lost_messages(const Harvest *harvest, int64_t end_ms)
{
    int lost = 0;
    size_t i;
    json_t *message;

    json_array_foreach(harvest->messages, i, message)
    {
        const char *fate = text(message, "fate");
        int64_t at_ms = 0;
        instant_parse(text(message, "at"), &at_ms);
        bool open = strcmp(fate, "waiting") == 0 || strcmp(fate, "writing") == 0;
        lost += open && at_ms < end_ms - 6 * HOUR_MS;
    }
    return lost;
}

json_t *harvest_summary(const Harvest *harvest, const World *world, int64_t end_ms)
{
    StandinCounts counts = standin_counts(world->standin);

    return json_pack(
        "{s:I, s:O, s:i, s:i, s:I, s:I, s:I, s:i, s:i, s:i, s:i}", "clients",
        (json_int_t)world->n_residents, "sessions", harvest->sessions, "reminders",
        count_kind(harvest->messages, "reminder"), "nudges", count_kind(harvest->messages, "nudge"),
        "replies", (json_int_t)json_array_size(harvest->replies), "reports",
        (json_int_t)harvest->reports, "alerts", (json_int_t)json_array_size(harvest->alerts),
        "digests", count_kind(harvest->messages, "digest"), "unread",
        count_unread(harvest->replies), "lost",
        lost_replies(harvest, world) + lost_messages(harvest, end_ms), "repeated",
        counts.repeated + world->mails_repeated);
}

void harvest_clear(Harvest *harvest)
{
    json_decref(harvest->messages);
    json_decref(harvest->alerts);
    json_decref(harvest->replies);
    json_decref(harvest->sessions);
    g_free(harvest->week);
}
