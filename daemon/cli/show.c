/* SPDX-License-Identifier: Apache-2.0 */
/* Answers as a person reads them. */
#include <stdio.h>
#include <string.h>

#include "daemon/cli/ask.h"
#include "daemon/cli/show_value.h"

/* Is it the name of an entry of the ledger, "fb9d86570f1d9262:10", which tells a person nothing? */
static bool is_event(const char *text)
{
    size_t digits = strspn(text, "0123456789abcdef");

    return digits == 16 && text[digits] == ':' &&
           strspn(text + digits + 1, "0123456789") == strlen(text + digits + 1);
}

void show_plain(const json_t *answer)
{
    json_t *told = json_copy((json_t *)answer);

    json_object_del(told, "warnings"); /* said as notes */
    const char *name;
    json_t *value;
    void *next;
    json_object_foreach_safe(told, next, name, value)
    {
        if (json_is_string(value) && is_event(json_string_value(value)))
            json_object_del(told, name);
    }
    show_fields(told, 0);
    json_decref(told);
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
    printf("%-8s %-22s %-8s %-7s %-16s %s\n", "client", "name", "standing", "channel", "stage",
           "zone");
    json_array_foreach((json_t *)answer, i, client)
    {
        printf("%-8s ", show_text(client, "client"));
        print_padded(show_text(client, "name"), 22);
        printf(" %-8s %-7s %-16s %s\n", show_text(client, "standing"), show_text(client, "channel"),
               show_text(client, "stage"), show_text(client, "zone"));
    }
}

void show_sessions(const json_t *answer)
{
    size_t i;
    json_t *session;

    if (says_none(answer, "No sessions on these dates.")) return;
    json_array_foreach((json_t *)answer, i, session) printf(
        "%s  slot %d  %s  %-8s %-22s %.8s\n", show_text(session, "date"),
        (int)json_integer_value(json_object_get(session, "slot")), show_text(session, "local"),
        show_text(session, "state"), show_text(session, "stage"), show_text(session, "session"));
}

static int number(const json_t *object, const char *field)
{
    return (int)json_integer_value(json_object_get(object, field));
}

void show_adherence(const json_t *answer)
{
    const json_t *bounds = json_object_get(answer, "bounds");

    printf("%d of %d done, %d in part, %d not done, %d no answer, %d not asked, %d excused\n",
           number(answer, "done"), number(answer, "prescribed"), number(answer, "partly"),
           number(answer, "not"), number(answer, "silent"), number(answer, "unasked"),
           number(answer, "excused"));
    if (json_is_null(json_object_get(answer, "rate"))) {
        puts("nothing was due, so there is no rate");
        return;
    }
    printf("rate %.0f %% of %d due (95 %% interval %.0f to %.0f %%); between %.0f and %.0f %%, "
           "whatever became of those without an answer\n",
           100 * json_number_value(json_object_get(answer, "rate")), number(answer, "due"),
           100 * json_number_value(json_object_get(answer, "low")),
           100 * json_number_value(json_object_get(answer, "high")),
           100 * json_number_value(json_array_get(bounds, 0)),
           100 * json_number_value(json_array_get(bounds, 1)));
}

/* "Tue 10 Mar 2026, 10:19" on the clinic's clock (g_free). */
static char *when(const json_t *object)
{
    return show_instant(show_text(object, show_has(object, "local") ? "local" : "at"));
}

void show_alerts(const json_t *answer)
{
    size_t i;
    json_t *alert;

    if (says_none(answer, "No open alerts.")) return;
    json_array_foreach((json_t *)answer, i, alert)
    {
        g_autofree char *at = when(alert);
        printf("%-5s %-6s %-14s %s  ", show_text(alert, "code"), show_text(alert, "class"),
               show_kind(show_text(alert, "kind")), at);
        if (show_has(alert, "client"))
            printf("%s (%s)", show_text(alert, "name"), show_text(alert, "client"));
        else
            fputs("the clinic", stdout);
        printf("  %s", show_text(alert, "state"));
        if (show_has(alert, "closed_by"))
            printf(" by %s", show_text(alert, "closed_by"));
        else if (show_has(alert, "taken_by"))
            printf(" by %s", show_text(alert, "taken_by"));
        if (show_has(alert, "outcome")) printf(", %s", show_text(alert, "outcome"));
        putchar('\n');
        show_reasons(json_object_get(alert, "reasons"), "      ");
        if (show_has(alert, "needs")) printf("      needs: %s\n", show_text(alert, "needs"));
        if (show_has(alert, "note")) printf("      note: %s\n", show_text(alert, "note"));
    }
}

void show_alert(const json_t *answer)
{
    json_t *list = json_pack("[O]", answer);

    show_alerts(list);
    json_decref(list);
}

/* "done yes; intensity 4; pain 0", or that nothing was read. */
static void print_reading(const json_t *reading)
{
    static const char *const FIELDS[] = {"done", "intensity", "pain", "warning", "command", "rest"};
    const char *before = " ";

    for (size_t i = 0; i < G_N_ELEMENTS(FIELDS); i++) {
        const json_t *value = json_object_get(reading, FIELDS[i]);
        if (value == NULL || json_is_null(value)) continue;
        printf("%s%s ", before, FIELDS[i]);
        show_value(value);
        before = "; ";
    }
    puts(*before == ' ' ? " nothing" : "");
}

void show_report(const json_t *answer)
{
    printf("%s, session %.8s: written down as", show_text(answer, "client"),
           show_text(answer, "session"));
    print_reading(json_object_get(answer, "reading"));
}

/* "Ada N. (K7QF2M9T)"; of a reply that may be several people's, all of them. */
static void print_writer(const json_t *reply)
{
    const json_t *several = json_object_get(reply, "candidates");
    size_t i;
    json_t *one;

    if (show_has(reply, "name"))
        printf("%s (%s)\n", show_text(reply, "name"), show_text(reply, "client"));
    else if (show_has(reply, "client"))
        printf("client %s\n", show_text(reply, "client"));
    else if (json_array_size(several) == 0)
        puts("nobody's known number or address");
    else
        json_array_foreach((json_t *)several, i, one)
            printf("%s%s (%s)%s", i > 0 ? " or " : "", show_text(one, "name"),
                   show_text(one, "client"), i + 1 < json_array_size(several) ? "" : "\n");
}

void show_replies(const json_t *answer)
{
    size_t i;
    json_t *reply;

    if (says_none(answer, "None.")) return;
    json_array_foreach((json_t *)answer, i, reply)
    {
        g_autofree char *at = when(reply);
        printf("%.8s  %s  from %s  %s\n    ", show_text(reply, "reply"), at,
               show_text(reply, "from"), show_text(reply, "state"));
        print_writer(reply);
        printf("    \"%s\"\n", show_text(reply, "text"));
        if (json_is_object(json_object_get(reply, "reading"))) {
            fputs("    read as:", stdout);
            print_reading(json_object_get(reply, "reading"));
        }
        if (!json_is_null(json_object_get(reply, "why")))
            printf("    why: %s\n", show_text(reply, "why"));
        if (show_has(reply, "suggests")) printf("    if so: %s\n", show_text(reply, "suggests"));
    }
}

void show_messages(const json_t *answer)
{
    size_t i;
    json_t *message;

    if (says_none(answer, "None.")) return;
    json_array_foreach((json_t *)answer, i, message)
    {
        g_autofree char *at = when(message);
        printf("%.8s  %s  %-8s to %-16s %s", show_text(message, "message"), at,
               show_text(message, "kind"), show_text(message, "to"), show_text(message, "fate"));
        if (strcmp(show_text(message, "receipt"), "late") == 0) fputs(", no receipt", stdout);
        if (show_has(message, "reason")) printf(" (%s)", show_text(message, "reason"));
        if (show_has(message, "fate_local") &&
            strcmp(show_text(message, "fate_local"), show_text(message, "local")) != 0) {
            g_autofree char *fated = show_instant(show_text(message, "fate_local"));
            printf(", %s", fated);
        }
        putchar('\n');
        show_block(show_text(message, "text"), "    | ");
    }
}

/* What to ask, under the first call of its kind. */
static void print_script(const json_t *calls, size_t at)
{
    const json_t *call = json_array_get(calls, at);
    const char *before = "ask:";
    size_t i;
    json_t *line;

    for (i = 0; i < at; i++)
        if (strcmp(show_text(json_array_get(calls, i), "why"), show_text(call, "why")) == 0) return;
    json_array_foreach(json_object_get(call, "ask"), i, line)
    {
        printf("      %-4s %s\n", before, json_string_value(line));
        before = "";
    }
}

void show_calls(const json_t *answer)
{
    size_t i;
    json_t *call;

    if (says_none(answer, "Nobody to ring.")) return;
    json_array_foreach((json_t *)answer, i, call)
    {
        printf("%2zu. %s  %s  %s", i + 1, show_text(call, "name"), show_text(call, "phone"),
               show_kind(show_text(call, "why")));
        if (show_has(call, "class")) printf(" (%s)", show_text(call, "class"));
        if (show_has(call, "needs")) printf("  needs: %s", show_text(call, "needs"));
        putchar('\n');
        show_reasons(json_object_get(call, "reasons"), "      ");
        print_script(answer, i);
    }
}
