/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/rehearsal/results.h"

#include <string.h>

#include "adapters/mail/images.h"
#include "daemon/rehearsal/ledger_file.h"

static const char *text_of(const json_t *object, const char *field)
{
    const char *text = json_string_value(json_object_get(object, field));

    return text != NULL ? text : "";
}

/* --- gathering ------------------------------------------------------------------------------ */

static bool gather_sessions(Findings *findings, World *world, int days)
{
    g_autofree char *from = day_format(world->from);

    findings->sessions = json_object();
    for (size_t i = 0; i < world->n_residents; i++) {
        g_autofree char *path = g_strdup_printf("/clients/%s/sessions?from=%s&days=%d",
                                                world->residents[i].id, from, days);
        json_t *sessions = link_must(world->link, "GET", path, NULL);
        if (sessions == NULL) return false;
        json_object_set_new(findings->sessions, world->residents[i].id, sessions);
    }
    return true;
}

bool findings_gather(Findings *findings, World *world, int days)
{
    *findings = (Findings){.messages = link_must(world->link, "GET", "/messages", NULL),
                           .alerts = link_must(world->link, "GET", "/alerts?all=1", NULL),
                           .replies = link_must(world->link, "GET", "/replies", NULL),
                           .unread = link_must(world->link, "GET", "/unread", NULL)};
    return gather_sessions(findings, world, days) && world->link->problem == NULL;
}

void findings_clear(Findings *findings)
{
    json_decref(findings->messages);
    json_decref(findings->alerts);
    json_decref(findings->replies);
    json_decref(findings->unread);
    json_decref(findings->sessions);
    *findings = (Findings){0};
}

/* --- figures -------------------------------------------------------------------------------- */

/* Messages of a kind that went out. */
static int sent(const Findings *findings, const char *kind)
{
    static const char *const OUT[] = {"accepted", "delivered", "unsure", NULL};
    size_t index;
    json_t *message;
    int n = 0;

    json_array_foreach(findings->messages, index, message)
    {
        n += strcmp(text_of(message, "kind"), kind) == 0 &&
             g_strv_contains(OUT, text_of(message, "fate"));
    }
    return n;
}

/* Sessions by state, those of the future left out. */
static json_t *session_counts(const Findings *findings)
{
    static const char *const STATES[] = {"planned", "asked",  "done",    "partly",
                                         "not",     "silent", "unasked", "excused"};
    json_t *counts = json_object();
    const char *client;
    json_t *sessions, *session;
    size_t index;

    for (size_t i = 0; i < G_N_ELEMENTS(STATES); i++)
        json_object_set_new(counts, STATES[i], json_integer(0));
    json_object_foreach(findings->sessions, client, sessions)
    {
        json_array_foreach(sessions, index, session)
        {
            const char *state = text_of(session, "state");
            json_int_t n = json_integer_value(json_object_get(counts, state));
            json_object_set_new(counts, state, json_integer(n + 1));
        }
    }
    return counts;
}

/* Messages whose time has come and of which nobody can say what became of them. */
static int without_fate(const Findings *findings, const World *world)
{
    size_t index;
    json_t *message;
    int n = 0;

    json_array_foreach(findings->messages, index, message)
    {
        int64_t at_ms = 0, next_ms = 0;
        const char *fate = text_of(message, "fate");
        bool open = strcmp(fate, "waiting") == 0 || strcmp(fate, "writing") == 0 || *fate == '\0';
        instant_parse(text_of(message, "at"), &at_ms);
        instant_parse(text_of(message, "next_at"), &next_ms);
        n += open && MAX(at_ms, next_ms) < world->now_ms;
    }
    return n;
}

/* Replies that the world sent and the ledger does not hold. */
static int not_received(const LedgerFile *ledger, const World *world)
{
    int n = 0;

    for (guint i = 0; i < world->letters->len; i++) {
        const Letter *letter = world->letters->pdata[i];
        g_autofree char *key = letter->mailed
                                   ? ledger_mail_key(letter->id)
                                   : ledger_reply_key(letter->from, letter->text, letter->at_ms);
        n += !world_on_its_way(world, letter) && !g_hash_table_contains(ledger->replies, key);
    }
    return n;
}

static json_t *summarise(const Findings *findings, const World *world, const LedgerFile *ledger,
                         int digests)
{
    int lost = not_received(ledger, world) + without_fate(findings, world);
    int repeated = standin_counts(world->standin).repeated + world->mails_repeated;

    return json_pack("{s:i, s:o, s:i, s:i, s:i, s:i, s:i, s:i, s:i, s:i, s:i, s:i, s:i}", "clients",
                     (int)world->n_residents, "sessions", session_counts(findings), "reminders",
                     sent(findings, "reminder"), "nudges", sent(findings, "nudge"), "replies",
                     (int)json_array_size(findings->replies), "reports", ledger->reports,
                     "measures", ledger->measures, "moves", ledger->moves, "alerts",
                     (int)json_array_size(findings->alerts), "digests", digests, "unread",
                     (int)json_array_size(findings->unread), "lost", lost, "repeated", repeated);
}

/* --- files ---------------------------------------------------------------------------------- */

static bool write_file(const char *out, const char *name, const void *bytes, gssize length,
                       char **why)
{
    g_autofree char *path = g_build_filename(out, name, NULL);
    g_autoptr(GError) error = NULL;

    if (g_file_set_contents(path, bytes, length, &error)) return true;
    if (*why == NULL) *why = g_strdup(error->message);
    return false;
}

static bool write_lines(const char *out, const char *name, const json_t *list, char **why)
{
    g_autoptr(GString) lines = g_string_new(NULL);
    size_t index;
    json_t *item;

    json_array_foreach(list, index, item)
    {
        char *line = json_dumps(item, JSON_COMPACT | JSON_REAL_PRECISION(15));
        g_string_append_printf(lines, "%s\n", line);
        free(line);
    }
    return write_file(out, name, lines->str, (gssize)lines->len, why);
}

static bool is_digest(const Findings *findings, const Mail *mail)
{
    size_t index;
    json_t *message;

    json_array_foreach(findings->messages, index, message)
    {
        if (g_ascii_strcasecmp(text_of(message, "message"), mail->id) == 0)
            return strcmp(text_of(message, "kind"), "digest") == 0;
    }
    return false;
}

/* The digests as mail and as page: digest-2026-03-09.eml and .html, further readers' with a
 * number. */
static bool write_digests(const Findings *findings, const World *world, const char *out,
                          int *digests, char **why)
{
    g_autoptr(GHashTable) taken = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, NULL);

    *digests = 0;
    for (guint i = 0; i < world->mails->len; i++) {
        const Mail *mail = world->mails->pdata[i];
        if (!is_digest(findings, mail)) continue;
        g_autofree char *date = day_format(zone_local(world->zone, mail->at_ms).day);
        g_autofree char *stem = g_strconcat("digest-", date, NULL);
        for (int n = 2; g_hash_table_contains(taken, stem); n++) {
            g_free(stem);
            stem = g_strdup_printf("digest-%s-%d", date, n);
        }
        g_hash_table_add(taken, g_strdup(stem));
        g_autofree char *eml = g_strconcat(stem, ".eml", NULL);
        g_autofree char *html = g_strconcat(stem, ".html", NULL);
        g_autofree char *page = mail_page(mail->bytes);
        gsize length;
        const void *bytes = g_bytes_get_data(mail->bytes, &length);
        if (!write_file(out, eml, bytes, (gssize)length, why) ||
            (page != NULL && !write_file(out, html, page, -1, why)))
            return false;
        ++*digests;
    }
    return true;
}

json_t *results_write(const Findings *findings, World *world, const char *store, const char *out,
                      char **why)
{
    g_auto(LedgerFile) ledger = {0};
    int digests = 0;

    *why = NULL;
    if (!ledger_file_read(&ledger, world->loop, store, world->now_ms, why) ||
        !write_file(out, "ledger.jsonl", ledger.lines->str, (gssize)ledger.lines->len, why) ||
        !write_lines(out, "messages.jsonl", findings->messages, why) ||
        !write_lines(out, "alerts.jsonl", findings->alerts, why) ||
        !write_digests(findings, world, out, &digests, why))
        return NULL;
    json_t *summary = summarise(findings, world, &ledger, digests);
    char *text = json_dumps(summary, JSON_INDENT(2) | JSON_PRESERVE_ORDER);
    g_autofree char *line = g_strconcat(text, "\n", NULL);
    free(text);
    if (write_file(out, "summary.json", line, -1, why)) return summary;
    json_decref(summary);
    return NULL;
}
