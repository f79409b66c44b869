/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/cli/show_value.h"

#include <glib.h>
#include <stdio.h>
#include <string.h>

#define NAME_WIDTH 16

static bool is_obeyed(gunichar each)
{
    bool turns = (each >= 0x202a && each <= 0x202e) || (each >= 0x2066 && each <= 0x2069);

    return turns || (g_unichar_iscntrl(each) && each != '\n' && each != '\t');
}

char *show_harmless_text(const char *text)
{
    g_autofree char *valid = g_utf8_make_valid(text, -1);
    GString *plain = g_string_new(NULL);

    for (const char *at = valid; *at != '\0'; at = g_utf8_next_char(at)) {
        gunichar each = g_utf8_get_char(at);
        g_string_append_unichar(plain, is_obeyed(each) ? 0xfffd : each);
    }
    return g_string_free(plain, FALSE);
}

static void make_harmless(json_t *text)
{
    g_autofree char *plain = show_harmless_text(json_string_value(text));

    json_string_set(text, plain);
}

void show_harmless(json_t *answer)
{
    const char *field;
    json_t *value;
    size_t i;

    if (json_is_string(answer)) make_harmless(answer);
    json_array_foreach(answer, i, value) show_harmless(value);
    json_object_foreach(answer, field, value) show_harmless(value);
}

const char *show_text(const json_t *object, const char *field)
{
    const char *value = json_string_value(json_object_get(object, field));

    return value != NULL ? value : "-";
}

bool show_has(const json_t *object, const char *field)
{
    const json_t *value = json_object_get(object, field);

    if (json_is_string(value)) return json_string_length(value) > 0;
    if (json_is_array(value)) return json_array_size(value) > 0;
    return value != NULL && !json_is_null(value);
}

static void print_list(const json_t *list)
{
    size_t i;
    json_t *item;

    if (json_array_size(list) == 0) putchar('-');
    json_array_foreach((json_t *)list, i, item)
    {
        if (i > 0) fputs(", ", stdout);
        show_value(item);
    }
}

void show_value(const json_t *value)
{
    if (json_is_string(value)) {
        fputs(json_string_value(value), stdout);
    } else if (json_is_integer(value)) {
        printf("%" JSON_INTEGER_FORMAT, json_integer_value(value));
    } else if (json_is_real(value)) {
        printf("%.6g", json_real_value(value));
    } else if (json_is_boolean(value)) {
        fputs(json_is_true(value) ? "yes" : "no", stdout);
    } else if (json_is_array(value)) {
        print_list(value);
    } else if (json_is_object(value)) {
        g_autofree char *dump = json_dumps(value, JSON_COMPACT);
        fputs(dump, stdout);
    } else {
        putchar('-');
    }
}

static char *instant_words(GDateTime *at)
{
    static const char *const DAYS[] = {"", "Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"};
    static const char *const MONTHS[] = {"",    "Jan", "Feb", "Mar", "Apr", "May", "Jun",
                                         "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"};

    return g_strdup_printf("%s %d %s %d, %02d:%02d", DAYS[g_date_time_get_day_of_week(at)],
                           g_date_time_get_day_of_month(at), MONTHS[g_date_time_get_month(at)],
                           g_date_time_get_year(at), g_date_time_get_hour(at),
                           g_date_time_get_minute(at));
}

char *show_instant(const char *text)
{
    g_autoptr(GTimeZone) utc = g_time_zone_new_utc();
    g_autofree char *whole = strlen(text) == strlen("2026-03-29T08:00")
                                 ? g_strconcat(text, ":00", NULL)
                                 : g_strdup(text);
    g_autoptr(GDateTime) at = g_date_time_new_from_iso8601(whole, utc);

    return at != NULL ? instant_words(at) : g_strdup(text);
}

char *show_instant_in(const char *text, const char *zone, bool named)
{
    g_autoptr(GTimeZone) utc = g_time_zone_new_utc();
    g_autoptr(GTimeZone) there = g_time_zone_new_identifier(zone);
    g_autoptr(GDateTime) at = g_date_time_new_from_iso8601(text, utc);

    if (at == NULL) return g_strdup(text);
    g_autoptr(GDateTime) local = g_date_time_to_timezone(at, there != NULL ? there : utc);
    g_autofree char *words = instant_words(local);
    if (!named && there != NULL) return g_steal_pointer(&words);
    return g_strdup_printf("%s (%s)", words, there != NULL ? zone : "UTC");
}

const char *show_kind(const char *kind)
{
    static const char *const WORDS[][2] = {
        {"crisis", "crisis, wish to die"},
        {"heart", "heart or breathing sign"},
        {"stroke", "stroke sign"},
        {"cauda", "bladder or saddle sign"},
        {"clot", "clot sign"},
        {"fracture", "fracture sign"},
        {"nerve", "nerve sign"},
        {"pain-some", "pain, no number given"},
        {"pain-unsaid", "stretch or pain"},
        {"strong-stretch", "strong stretch"},
        {"missed-run", "missed days in a row"},
        {"stopped", "has ended the texts"},
        {"undeliverable", "cannot be reached"},
        {"unread", "a reply has waited for a day"},
        {"suspended", "texts stopped, please look"},
        {"review", "the review is due"},
        {"away", "a long break, please ask"},
        {"consent", "consent to be asked for anew"},
        {"screen", "a fresh screen changed what suits"},
        {"height-loss", "loss of height"},
        {"gateway", "a gateway fails"},
        {"digest-lost", "the weekly digest did not arrive"},
        {"session", "today's session by telephone"},
        {"backup", "no copy at night"},
        {"two-senders", "two replicas sent"},
        {"snapshot", "a snapshot did not hold"},
    };

    for (size_t i = 0; i < G_N_ELEMENTS(WORDS); i++)
        if (strcmp(WORDS[i][0], kind) == 0) return WORDS[i][1];
    return kind;
}

void show_block(const char *text, const char *margin)
{
    g_autofree char *trimmed = g_strchomp(g_strdup(text));
    g_auto(GStrv) lines = g_strsplit(trimmed, "\n", -1);

    for (int i = 0; lines[i] != NULL; i++) {
        g_autofree char *line = g_strchomp(g_strconcat(margin, lines[i], NULL));
        puts(line);
    }
}

/* --- reasons --- */

typedef struct {
    const char *rule;
    const char *said;
    const char *of; /* behind the value */
} RuleWords;

/* What the limits of a clinic's file are called where a person reads them. */
static const RuleWords RULES[] = {
    {"pain_now", "pain", " of 10"},
    {"pain_today", "pain", " of 10"},
    {"missed_run", "missed days in a row", ""},
    {"intensity_high", "stretch", " of 10"},
};

/* Prints the rule in words, and what stands behind it in brackets as it is. Gives what follows the value. */
static const char *print_rule(const char *rule)
{
    size_t length = strcspn(rule, " ");

    for (size_t i = 0; i < G_N_ELEMENTS(RULES); i++)
        if (strlen(RULES[i].rule) == length && strncmp(RULES[i].rule, rule, length) == 0) {
            printf("%s%s", RULES[i].said, rule + length);
            return RULES[i].of;
        }
    fputs(rule, stdout);
    return "";
}

/* A value of a reason: a number too great to be a count or a reading is an instant, in milliseconds. */
static void print_reason_value(const json_t *value)
{
    int64_t ms = json_is_integer(value) ? json_integer_value(value) : 0;
    g_autoptr(GDateTime) at =
        ms >= SHOW_INSTANT_FROM ? g_date_time_new_from_unix_utc(ms / 1000) : NULL;
    g_autofree char *said = at != NULL ? g_date_time_format(at, "%Y-%m-%d %H:%M UTC") : NULL;

    if (said != NULL)
        fputs(said, stdout);
    else
        show_value(value);
}

static void print_reason(const json_t *reason)
{
    const json_t *met = json_object_get(reason, "met");

    const char *of = print_rule(show_text(reason, "rule"));

    fputs(": ", stdout);
    print_reason_value(json_object_get(reason, "value"));
    fputs(of, stdout);
    if (show_has(reason, "limit")) {
        fputs(", limit ", stdout);
        show_value(json_object_get(reason, "limit"));
    }
    if (json_is_false(met)) fputs(", not met", stdout);
    if (show_has(reason, "words")) printf(", \"%s\"", show_text(reason, "words"));
}

void show_reasons(const json_t *reasons, const char *indent)
{
    size_t i;
    json_t *reason;

    json_array_foreach((json_t *)reasons, i, reason)
    {
        fputs(indent, stdout);
        print_reason(reason);
        putchar('\n');
    }
}

bool show_is_reasons(const json_t *value)
{
    return json_is_array(value) && json_object_get(json_array_get(value, 0), "rule") != NULL;
}

/* --- fields --- */

static bool holds_objects(const json_t *value)
{
    return json_is_array(value) && json_is_object(json_array_get(value, 0));
}

static void print_blocks(const json_t *list, int indent)
{
    g_autofree char *margin = g_strnfill((gsize)indent, ' ');
    size_t i;
    json_t *item;

    if (show_is_reasons(list)) {
        show_reasons(list, margin);
        return;
    }
    json_array_foreach((json_t *)list, i, item)
    {
        if (i > 0) putchar('\n');
        show_fields(item, indent);
    }
}

void show_fields(const json_t *object, int indent)
{
    const char *name;
    json_t *value;

    json_object_foreach((json_t *)object, name, value)
    {
        if (!show_has(object, name)) continue;
        printf("%*s%-*s ", indent, "", MAX(NAME_WIDTH - indent, 1), name);
        if (json_is_object(value)) {
            putchar('\n');
            show_fields(value, indent + 2);
        } else if (holds_objects(value)) {
            putchar('\n');
            print_blocks(value, indent + 2);
        } else {
            show_value(value);
            putchar('\n');
        }
    }
}
