/* SPDX-License-Identifier: Apache-2.0 */
/* Answers as a person reads them. */
#include <stdio.h>
#include <string.h>

#include "daemon/cli/ask.h"

static const char *text(const json_t *object, const char *field)
{
    const char *value = json_string_value(json_object_get(object, field));

    return value != NULL ? value : "-";
}

static void print_value(const json_t *value)
{
    if (json_is_string(value)) {
        fputs(json_string_value(value), stdout);
    } else if (json_is_null(value)) {
        putchar('-');
    } else if (json_is_real(value)) {
        printf("%.4g", json_real_value(value));
    } else if (json_is_boolean(value)) {
        fputs(json_is_true(value) ? "yes" : "no", stdout);
    } else {
        g_autofree char *dump = json_dumps(value, JSON_ENCODE_ANY | JSON_COMPACT);
        fputs(dump, stdout);
    }
}

/* "pain_today 5, limit 4" of one reason, as words. */
static void print_reason(const json_t *reason)
{
    const json_t *value = json_object_get(reason, "value");
    const json_t *limit = json_object_get(reason, "limit");
    const char *words = json_string_value(json_object_get(reason, "words"));
    const json_t *met = json_object_get(reason, "met");

    printf("%s: ", text(reason, "rule"));
    print_value(value);
    if (limit != NULL && !json_is_null(limit)) {
        fputs(" (limit ", stdout);
        print_value(limit);
        putchar(')');
    }
    if (met != NULL) fputs(json_is_true(met) ? ", met" : ", not met", stdout);
    if (words != NULL) printf(", \"%s\"", words);
}

static void print_reasons(const json_t *reasons, const char *indent)
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

static bool is_reasons(const json_t *value)
{
    return json_is_array(value) && json_object_get(json_array_get(value, 0), "rule") != NULL;
}

static void print_object(const json_t *object, int indent)
{
    const char *name;
    json_t *value;

    json_object_foreach((json_t *)object, name, value)
    {
        if (strcmp(name, "warnings") == 0) continue;
        printf("%*s%-*s ", indent, "", 16 - indent, name);
        if (is_reasons(value)) {
            putchar('\n');
            print_reasons(value, "                   ");
        } else if (json_is_object(value)) {
            putchar('\n');
            print_object(value, indent + 2);
        } else {
            print_value(value);
            putchar('\n');
        }
    }
}

void show_plain(const json_t *answer)
{
    print_object(answer, 0);
}

static bool says_none(const json_t *list, const char *none)
{
    if (json_array_size(list) > 0) return false;
    puts(none);
    return true;
}

/* A name cut or padded to a width of characters. */
static void print_padded(const char *value, int width)
{
    g_autofree char *cut = g_utf8_substring(value, 0, MIN(width, g_utf8_strlen(value, -1)));

    printf("%s%*s", cut, width - (int)g_utf8_strlen(cut, -1), "");
}

void show_clients(const json_t *answer)
{
    size_t i;
    json_t *client;

    if (says_none(answer, "No clients yet. Add one with: osier client add --help")) return;
    printf("%-9s %-24s %-9s %-7s %-22s %s\n", "client", "name", "standing", "channel", "stage",
           "zone");
    json_array_foreach((json_t *)answer, i, client)
    {
        printf("%-9s ", text(client, "client"));
        print_padded(text(client, "name"), 24);
        printf(" %-9s %-7s %-22s %s\n", text(client, "standing"), text(client, "channel"),
               text(client, "stage"), text(client, "zone"));
    }
}

void show_sessions(const json_t *answer)
{
    size_t i;
    json_t *session;

    if (says_none(answer, "No sessions on these dates.")) return;
    json_array_foreach((json_t *)answer, i, session)
        printf("%s  slot %d  %s  %-8s %-22s %.8s\n", text(session, "date"),
               (int)json_integer_value(json_object_get(session, "slot")), text(session, "local"),
               text(session, "state"), text(session, "stage"), text(session, "session"));
}

static int number(const json_t *object, const char *field)
{
    return (int)json_integer_value(json_object_get(object, field));
}

void show_adherence(const json_t *answer)
{
    const json_t *bounds = json_object_get(answer, "bounds");

    printf("%d of %d done, %d partly, %d no, %d silent, %d not asked, %d excused\n",
           number(answer, "done"), number(answer, "prescribed"), number(answer, "partly"),
           number(answer, "not"), number(answer, "silent"), number(answer, "unasked"),
           number(answer, "excused"));
    if (json_is_null(json_object_get(answer, "rate"))) {
        puts("nothing was due, so there is no rate");
        return;
    }
    printf("rate %.0f %% of %d due (95 %% interval %.0f to %.0f %%); between %.0f and %.0f %% with "
           "the silent ones\n",
           100 * json_number_value(json_object_get(answer, "rate")), number(answer, "due"),
           100 * json_number_value(json_object_get(answer, "low")),
           100 * json_number_value(json_object_get(answer, "high")),
           100 * json_number_value(json_array_get(bounds, 0)),
           100 * json_number_value(json_array_get(bounds, 1)));
}

void show_alerts(const json_t *answer)
{
    size_t i;
    json_t *alert;

    if (says_none(answer, "No open alerts.")) return;
    json_array_foreach((json_t *)answer, i, alert)
    {
        printf("%-5s %-6s %-14s client %-9s since %s  %s", text(alert, "code"),
               text(alert, "class"), text(alert, "kind"), text(alert, "client"), text(alert, "at"),
               text(alert, "state"));
        if (!json_is_null(json_object_get(alert, "taken_by")))
            printf(" by %s", text(alert, "taken_by"));
        if (!json_is_null(json_object_get(alert, "outcome")))
            printf(", %s", text(alert, "outcome"));
        putchar('\n');
        print_reasons(json_object_get(alert, "reasons"), "      ");
    }
}

static void print_reading(const json_t *reading)
{
    static const char *const FIELDS[] = {"done", "intensity", "pain", "warning", "command", "rest"};

    for (size_t i = 0; i < G_N_ELEMENTS(FIELDS); i++) {
        const json_t *value = json_object_get(reading, FIELDS[i]);
        if (value == NULL || json_is_null(value)) continue;
        printf(" %s ", FIELDS[i]);
        print_value(value);
        putchar(';');
    }
}

void show_replies(const json_t *answer)
{
    size_t i;
    json_t *reply;

    if (says_none(answer, "None.")) return;
    json_array_foreach((json_t *)answer, i, reply)
    {
        printf("%.8s  %s  from %s  client %s  %s\n    \"%s\"\n", text(reply, "reply"),
               text(reply, "at"), text(reply, "from"), text(reply, "client"), text(reply, "state"),
               text(reply, "text"));
        if (json_is_object(json_object_get(reply, "reading"))) {
            fputs("    read as:", stdout);
            print_reading(json_object_get(reply, "reading"));
            putchar('\n');
        }
        if (!json_is_null(json_object_get(reply, "why")))
            printf("    why: %s\n", text(reply, "why"));
    }
}

void show_messages(const json_t *answer)
{
    size_t i;
    json_t *message;

    if (says_none(answer, "None.")) return;
    json_array_foreach((json_t *)answer, i, message)
        printf("%.8s  %s  %-8s to %-22s %-9s %s\n", text(message, "message"), text(message, "at"),
               text(message, "kind"), text(message, "to"),
               g_strcmp0(json_string_value(json_object_get(message, "receipt")), "late") == 0
                   ? "accepted, no receipt"
                   : text(message, "fate"),
               text(message, "text"));
}

void show_calls(const json_t *answer)
{
    size_t i;
    json_t *call;

    if (says_none(answer, "Nobody to ring.")) return;
    json_array_foreach((json_t *)answer, i, call)
    {
        printf("%2zu. %s  %s  %s", i + 1, text(call, "name"), text(call, "phone"),
               text(call, "why"));
        if (!json_is_null(json_object_get(call, "class"))) printf(" (%s)", text(call, "class"));
        if (!json_is_null(json_object_get(call, "needs")))
            printf("  needs: %s", text(call, "needs"));
        putchar('\n');
        print_reasons(json_object_get(call, "reasons"), "      ");
    }
}

void show_why(const json_t *answer)
{
    size_t i;
    json_t *event;

    printf("%s %s\n", text(answer, "what"), text(answer, "id"));
    if (is_reasons(json_object_get(answer, "reasons")))
        print_reasons(json_object_get(answer, "reasons"), "  ");
    json_array_foreach(json_object_get(answer, "events"), i, event)
    {
        g_autofree char *body =
            json_dumps(json_object_get(event, "body"), JSON_COMPACT | JSON_ENCODE_ANY);
        printf("  %-18s by %-14s %s\n", text(event, "kind"), text(event, "author"), body);
    }
}
