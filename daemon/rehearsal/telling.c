/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/rehearsal/telling.h"

#include <stdio.h>
#include <string.h>
#include <unistd.h>

enum { REWRITE_US = 80 * 1000, NAME_WIDTH = 14, EVIDENCE_INDENT = 20, EVIDENCE_COLUMNS = 112 };

static const char *const MONTHS[] = {"",    "Jan", "Feb", "Mar", "Apr", "May", "Jun",
                                     "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"};
static const char *const WEEKDAYS[] = {"", "Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"};

void telling_start(Telling *telling, int days)
{
    *telling = (Telling){.terminal = isatty(STDOUT_FILENO) == 1,
                         .days = days,
                         .day = 1,
                         .states = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, g_free)};
}

static void wipe(const Telling *telling)
{
    if (telling->terminal) printf("\r\033[K");
}

void telling_end(Telling *telling)
{
    wipe(telling);
    g_hash_table_unref(telling->states);
}

/* A number as a person writes it, or the words (g_free); NULL for neither. */
static char *value_text(const json_t *value)
{
    if (json_is_string(value)) return g_strdup(json_string_value(value));
    if (json_is_number(value)) return g_strdup_printf("%g", json_number_value(value));
    return NULL;
}

static void append_part(GString *line, const char *text)
{
    if (line->len > 0) g_string_append_c(line, ' ');
    g_string_append(line, text);
}

char *telling_reason(const json_t *reason, const char *kind)
{
    const char *words = json_string_value(json_object_get(reason, "words"));
    const json_t *rule = json_object_get(reason, "rule");
    g_autofree char *name =
        g_strdelimit(g_strdup(json_is_string(rule) ? json_string_value(rule) : ""), "_", ' ');
    g_autofree char *plain_kind = g_strdelimit(g_strdup(kind), "-", ' ');
    g_autofree char *value = value_text(json_object_get(reason, "value"));
    g_autofree char *limit = value_text(json_object_get(reason, "limit"));
    GString *line = g_string_new(NULL);

    /* What the kind says already is not said twice. */
    if (strcmp(name, plain_kind) != 0 && strcmp(name, "warning") != 0) append_part(line, name);
    if (value != NULL && strcmp(value, kind) != 0) {
        bool words_follow = line->len > 0 && json_is_string(json_object_get(reason, "value"));
        if (words_follow) g_string_append_c(line, ':');
        append_part(line, value);
    }
    if (limit != NULL) g_string_append_printf(line, ", limit %s", limit);
    if (words != NULL) g_string_append_printf(line, "%s\"%s\"", line->len > 0 ? ": " : "", words);
    return g_string_free(line, FALSE);
}

/* "Rosalind Q." */
static char *short_name(World *world, const char *client)
{
    const Resident *who = client != NULL ? world_resident(world, client) : NULL;
    const char *name = who != NULL ? who->someone.persona->name : "the clinic";
    const char *space = who != NULL ? strchr(name, ' ') : NULL;

    if (space == NULL) return g_strdup(name);
    return g_strdup_printf("%.*s %.1s.", (int)(space - name), name, space + 1);
}

/* Padded to a width of characters. */
static void print_name(World *world, const json_t *alert)
{
    g_autofree char *name = short_name(world, json_string_value(json_object_get(alert, "client")));

    printf("%s%*s", name, MAX(1, NAME_WIDTH - (int)g_utf8_strlen(name, -1)), "");
}

static const char *text_of(const json_t *object, const char *field)
{
    const char *text = json_string_value(json_object_get(object, field));

    return text != NULL ? text : "";
}

/* "Mon 2 Mar" (g_free). */
static char *date_text(Day day)
{
    int year, month, mday;

    day_to_civil(day, &year, &month, &mday);
    return g_strdup_printf("%s %d %s", WEEKDAYS[day_weekday(day)], mday, MONTHS[month]);
}

/* The instant that a field tells, by the clinic's clock. */
static void print_stamp(const World *world, const json_t *alert, const char *field)
{
    int64_t ms = world->now_ms;

    instant_parse(text_of(alert, field), &ms);
    LocalTime local = zone_local(world->zone, ms);
    g_autofree char *date = date_text(local.day);
    printf("  %-10s %02d:%02d  ", date, local.second / 3600, local.second / 60 % 60);
}

static void print_opened(World *world, const json_t *alert)
{
    g_autoptr(GString) reasons = g_string_new(NULL);
    const char *kind = text_of(alert, "kind");
    size_t index;
    json_t *reason;

    json_array_foreach(json_object_get(alert, "reasons"), index, reason)
    {
        g_autofree char *text = telling_reason(reason, kind);
        g_string_append_printf(reasons, "%s%s", index > 0 ? "; " : "", text);
    }
    print_stamp(world, alert, "at");
    printf("%-6s  ", text_of(alert, "class"));
    print_name(world, alert);
    printf("%s: %s\n", kind, reasons->str);
}

static void print_closed(World *world, const json_t *alert)
{
    print_stamp(world, alert, "closed_at");
    printf("closed  ");
    print_name(world, alert);
    printf("%s: %s; %s (%s)\n", text_of(alert, "kind"), text_of(alert, "outcome"),
           text_of(alert, "note"), text_of(alert, "closed_by"));
}

static int by_at(const void *a, const void *b)
{
    const json_t *left = *(const json_t *const *)a, *right = *(const json_t *const *)b;

    return strcmp(text_of(left, "at"), text_of(right, "at"));
}

void telling_alerts(Telling *telling, World *world, const json_t *alerts)
{
    g_autoptr(GPtrArray) ordered = g_ptr_array_new();
    size_t index;
    json_t *alert;

    json_array_foreach(alerts, index, alert)
    {
        g_ptr_array_add(ordered, alert);
    }
    if (ordered->len > 1) qsort(ordered->pdata, ordered->len, sizeof ordered->pdata[0], by_at);
    for (guint i = 0; i < ordered->len; i++) {
        const char *id = text_of(ordered->pdata[i], "alert");
        const char *state = text_of(ordered->pdata[i], "state");
        const char *before = g_hash_table_lookup(telling->states, id);
        if (g_strcmp0(before, state) == 0) continue;
        wipe(telling);
        if (before == NULL) print_opened(world, ordered->pdata[i]);
        if (strcmp(state, "closed") == 0) print_closed(world, ordered->pdata[i]);
        telling->alerts += before == NULL;
        telling->shown_us = 0;
        g_hash_table_replace(telling->states, g_strdup(id), g_strdup(state));
    }
}

/* What the rules were given that spoke for the move; that nothing barred it goes without saying. */
static void print_evidence(const json_t *ready)
{
    bool back = strcmp(text_of(ready, "verdict"), "step back") == 0;
    int column = 0; /* nothing is told yet */
    size_t index;
    json_t *reason;

    json_array_foreach(json_object_get(ready, "reasons"), index, reason)
    {
        const char *rule = text_of(reason, "rule");
        const json_t *limit = json_object_get(reason, "limit");
        bool told = json_is_number(json_object_get(reason, "value")) &&
                    json_number_value(limit) != 0 && !g_str_has_prefix(rule, "days without");
        if (!told || g_str_has_prefix(rule, "step back") != back ||
            !json_is_true(json_object_get(reason, "met")))
            continue;
        g_autofree char *text = telling_reason(reason, "");
        int width = (int)g_utf8_strlen(text, -1);
        bool beside = column > 0 && column + 2 + width <= EVIDENCE_COLUMNS;
        printf("%s%*s%s",
               column == 0 ? ""
               : beside    ? "; "
                           : ";\n",
               beside ? 0 : EVIDENCE_INDENT, "", text);
        column = (beside ? column + 2 : EVIDENCE_INDENT) + width;
    }
    putchar('\n');
}

void telling_moves(Telling *telling, World *world)
{
    for (; telling->moves < world->moves->len; telling->moves++) {
        const Move *move = world->moves->pdata[telling->moves];
        LocalTime local = zone_local(world->zone, move->at_ms);
        g_autofree char *date = date_text(local.day);
        g_autofree char *name = short_name(world, move->who->id);
        wipe(telling);
        printf("  %-10s %02d:%02d  %-6s  %s%*s%s to %s, confirmed by %s\n", date,
               local.second / 3600, local.second / 60 % 60,
               strcmp(text_of(move->ready, "verdict"), "step back") == 0 ? "back" : "on", name,
               MAX(1, NAME_WIDTH - (int)g_utf8_strlen(name, -1)), "", text_of(move->ready, "stage"),
               text_of(move->ready, "to"), move->by);
        print_evidence(move->ready);
        telling->shown_us = 0;
    }
}

static Tally tally_of(const Telling *telling, const World *world)
{
    int mails_in = (int)world->mailbox->mails->len;

    return (Tally){world->texts_out, (int)world->mails->len, (int)world->letters->len - mails_in,
                   mails_in, telling->alerts};
}

static void print_tally(const Telling *telling, Day day, Tally tally)
{
    g_autofree char *date = date_text(day);

    printf("day %2d of %d  %-10s  %3d text%s and %d mail%s out, %3d text%s and %d mail%s in, "
           "%d alert%s",
           telling->day, telling->days, date, tally.texts_out, tally.texts_out == 1 ? "" : "s",
           tally.mails_out, tally.mails_out == 1 ? "" : "s", tally.texts_in,
           tally.texts_in == 1 ? "" : "s", tally.mails_in, tally.mails_in == 1 ? "" : "s",
           tally.alerts, tally.alerts == 1 ? "" : "s");
}

static int day_of(const World *world)
{
    return zone_local(world->zone, world->now_ms).day - world->from + 1;
}

bool telling_day_over(const Telling *telling, const World *world)
{
    return day_of(world) != telling->day;
}

void telling_progress(Telling *telling, const World *world)
{
    Tally tally = tally_of(telling, world);
    gint64 now_us = g_get_monotonic_time();

    if (telling->terminal && now_us - telling->shown_us >= REWRITE_US) {
        telling->shown_us = now_us;
        telling->day = MIN(day_of(world), telling->days);
        wipe(telling);
        print_tally(telling, world->from + telling->day - 1, tally);
        fflush(stdout);
    } else if (!telling->terminal && telling_day_over(telling, world)) {
        const Tally before = telling->before;
        telling->before = tally;
        print_tally(telling, world->from + telling->day - 1,
                    (Tally){tally.texts_out - before.texts_out, tally.mails_out - before.mails_out,
                            tally.texts_in - before.texts_in, tally.mails_in - before.mails_in,
                            tally.alerts - before.alerts});
        putchar('\n');
        fflush(stdout);
        telling->day = day_of(world);
    }
}

static int figure(const json_t *object, const char *name)
{
    return (int)json_integer_value(json_object_get(object, name));
}

static void print_figures(const json_t *summary)
{
    const json_t *sessions = json_object_get(summary, "sessions");

    printf("%d clients. Sessions: %d done, %d in part, %d not done, %d no answer, %d not asked, %d "
           "excused, "
           "%d open.\n",
           figure(summary, "clients"), figure(sessions, "done"), figure(sessions, "partly"),
           figure(sessions, "not"), figure(sessions, "silent"), figure(sessions, "unasked"),
           figure(sessions, "excused"), figure(sessions, "asked") + figure(sessions, "planned"));
    printf("Reminders %d, nudges %d, replies %d, reports %d, measures %d, moves %d, alerts %d, "
           "digests "
           "%d, unread %d; lost %d, repeated %d.\n",
           figure(summary, "reminders"), figure(summary, "nudges"), figure(summary, "replies"),
           figure(summary, "reports"), figure(summary, "measures"), figure(summary, "moves"),
           figure(summary, "alerts"), figure(summary, "digests"), figure(summary, "unread"),
           figure(summary, "lost"), figure(summary, "repeated"));
}

void telling_results(const json_t *summary, const char *out)
{
    print_figures(summary);
    printf("\n%s/\n"
           "  summary.json     these figures\n"
           "  messages.jsonl   every message, with its fate\n"
           "  alerts.jsonl     every alert, with its reasons and outcome\n"
           "  digest-*.eml     the digests as they were mailed, and as pages (.html)\n"
           "  ledger.jsonl     every event\n"
           "  store.db         the store: a rehearsal's, which no live osierd opens\n",
           out);
}
