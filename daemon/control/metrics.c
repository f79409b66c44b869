/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/control/metrics.h"

#include <glib.h>
#include <string.h>

#include "core/calendar/date.h"

static int64_t number(const json_t *object, const char *field)
{
    return json_integer_value(json_object_get(object, field));
}

static const char *text(const json_t *object, const char *field)
{
    return json_string_value(json_object_get(object, field));
}

static double seconds(const json_t *object, const char *field)
{
    int64_t ms;

    if (text(object, field) == NULL || !instant_parse(text(object, field), &ms)) return -1;
    return (double)ms / 1000;
}

static void family(GString *out, const char *name, const char *type, const char *help)
{
    g_string_append_printf(out, "# TYPE %s %s\n# HELP %s %s\n", name, type, name, help);
}

/* A gauge without labels. */
static void gauge(GString *out, const char *name, const char *help, int64_t value)
{
    family(out, name, "gauge", help);
    g_string_append_printf(out, "%s %" G_GINT64_FORMAT "\n", name, value);
}

/* An instant, where there is one; its unit stands in the name, as OpenMetrics wants it. */
static void instant(GString *out, const char *name, const char *help, double at)
{
    if (at < 0) return;
    g_string_append_printf(out, "# TYPE %s gauge\n# UNIT %s seconds\n# HELP %s %s\n%s %.3f\n", name,
                           name, name, help, name, at);
}

/* A label's value: backslash, quote and line feed are escaped (OpenMetrics 1.0.0, "escaped-string"). */
static char *escaped(const char *value)
{
    GString *out = g_string_new(NULL);

    for (const char *p = value != NULL ? value : ""; *p != '\0'; p++) {
        if (*p == '\n')
            g_string_append(out, "\\n");
        else if (*p == '"' || *p == '\\')
            g_string_append_printf(out, "\\%c", *p);
        else
            g_string_append_c(out, *p);
    }
    return g_string_free(out, FALSE);
}

static void labelled(GString *out, const char *name, const char *label, const char *value,
                     int64_t count)
{
    g_autofree char *sound = escaped(value);

    g_string_append_printf(out, "%s{%s=\"%s\"} %" G_GINT64_FORMAT "\n", name, label, sound, count);
}

static void add_standing(GString *out, const json_t *status)
{
    static const char *const STATES[] = {"well", "look", "ill"};

    family(out, "osier_state", "stateset", "How osier stands, in one word.");
    for (size_t i = 0; i < G_N_ELEMENTS(STATES); i++)
        labelled(out, "osier_state", "osier_state", STATES[i],
                 g_strcmp0(text(status, "state"), STATES[i]) == 0);
    gauge(out, "osier_clients", "Clients in the record, those who ended too.",
          number(status, "clients"));
    family(out, "osier_alerts_open", "gauge", "Alerts that are not closed, by class.");
    labelled(out, "osier_alerts_open", "class", "now", number(status, "alerts_now"));
    labelled(out, "osier_alerts_open", "class", "today", number(status, "alerts_today"));
    labelled(out, "osier_alerts_open", "class", "digest",
             number(status, "alerts") - number(status, "alerts_now") -
                 number(status, "alerts_today"));
    gauge(out, "osier_alerts_untaken_now", "Alerts of class now that nobody has taken.",
          number(status, "untaken_now"));
    gauge(out, "osier_replies_unread", "Replies that a person must settle.",
          number(status, "unread"));
    gauge(out, "osier_replies_glance", "Replies that a person should see once.",
          number(status, "glance"));
    gauge(out, "osier_messages_waiting", "Messages that have not gone out yet.",
          number(status, "waiting"));
    instant(out, "osier_messages_oldest_waiting_seconds", "When the oldest of them was made.",
            seconds(status, "oldest_waiting"));
    instant(out, "osier_due_next_seconds", "When something is due next.",
            seconds(status, "next_due"));
    instant(out, "osier_now_seconds", "The clock that osier goes by.", seconds(status, "now"));
    gauge(out, "osier_sender", "1 where this installation sends.",
          json_is_true(json_object_get(status, "sender")));
}

static void add_lines(GString *out, const json_t *status)
{
    const json_t *gateways = json_object_get(status, "gateways");
    const json_t *polls = json_object_get(status, "polls");
    bool sends = json_is_true(json_object_get(status, "sender"));
    size_t i;
    json_t *line;

    gauge(out, "osier_line_down", "1 while no gateway's host can be reached.",
          json_is_true(json_object_get(json_object_get(status, "line"), "down")));
    family(out, "osier_gateway_well", "gauge",
           "1 while the gateway is well and can be reached, and where this installation does not "
           "send.");
    json_array_foreach((json_t *)gateways, i, line)
        labelled(out, "osier_gateway_well", "gateway", text(line, "name"),
                 json_is_true(json_object_get(line, "up")) || !sends);
    family(out, "osier_gateway_failures", "gauge", "Failures of a gateway in a row.");
    json_array_foreach((json_t *)gateways, i, line) labelled(
        out, "osier_gateway_failures", "gateway", text(line, "name"), number(line, "failures"));
    family(out, "osier_poll_failures", "gauge", "Polls of a gateway that failed in a row.");
    json_array_foreach((json_t *)polls, i, line) labelled(
        out, "osier_poll_failures", "gateway", text(line, "name"), number(line, "failures"));
}

static void add_hooks(GString *out, const json_t *status)
{
    static const struct {
        const char *name, *field, *help;
    } COUNTS[] = {
        {"osier_hooks_refused", "refused",
         "Webhooks whose signature did not hold since the start."},
        {"osier_receipts_unreadable", "unreadable",
         "Signed receipts that could not be read since the start."},
    };

    for (size_t count = 0; count < G_N_ELEMENTS(COUNTS); count++) {
        g_autofree char *total = g_strconcat(COUNTS[count].name, "_total", NULL);
        size_t i;
        json_t *hook;
        family(out, COUNTS[count].name, "counter", COUNTS[count].help);
        json_array_foreach(json_object_get(status, "hooks"), i, hook)
            labelled(out, total, "gateway", text(hook, "name"), number(hook, COUNTS[count].field));
    }
}

static void add_keeping(GString *out, const json_t *status)
{
    const json_t *backup = json_object_get(status, "backup");
    const json_t *zones = json_object_get(status, "zones");

    if (json_is_object(backup)) {
        gauge(out, "osier_copy_failed", "1 where the last copy at night failed.",
              text(backup, "problem") != NULL);
        instant(out, "osier_copy_last_seconds", "When the last copy was tried.",
                seconds(backup, "at"));
    }
    instant(out, "osier_zones_released_seconds",
            "An instant by which the zone database was released.", seconds(zones, "released"));
    gauge(out, "osier_zones_old", "1 where the zone database is over a year old.",
          json_is_true(json_object_get(zones, "old")));
    gauge(out, "osier_store_writes", "0 while there is no room on the device of the store.",
          !json_is_false(json_object_get(json_object_get(status, "store"), "writes")));
    const json_t *room = json_object_get(json_object_get(status, "store"), "free");
    if (json_is_integer(room)) {
        g_string_append(out, "# TYPE osier_store_free_bytes gauge\n"
                             "# UNIT osier_store_free_bytes bytes\n"
                             "# HELP osier_store_free_bytes Room left on the device of the store's "
                             "file.\n");
        g_string_append_printf(out, "osier_store_free_bytes %" JSON_INTEGER_FORMAT "\n",
                               json_integer_value(room));
    }
    gauge(out, "osier_ledger_events", "Events in the ledger, of all installations.",
          number(status, "events"));
}

static void counter(GString *out, const char *name, const char *help, int64_t value)
{
    family(out, name, "counter", help);
    g_string_append_printf(out, "%s_total %" G_GINT64_FORMAT "\n", name, value);
}

static void add_tally(GString *out, const Tally *tally)
{
    static const char *const CLASSES[] = {"now", "today", "digest"};

    counter(out, "osier_events_written", "Events written since osierd started.", tally->events);
    counter(out, "osier_sessions_asked", "Sessions asked for since osierd started.", tally->asked);
    counter(out, "osier_replies_received", "Replies taken in since osierd started.",
            tally->replies);
    family(out, "osier_messages_settled", "counter",
           "Messages whose fate was settled since osierd started; a receipt settles again.");
    for (int fate = FATE_ACCEPTED; fate < TALLY_FATES; fate++)
        labelled(out, "osier_messages_settled_total", "fate", fate_name((Fate)fate),
                 tally->fates[fate]);
    family(out, "osier_alerts_opened", "counter", "Alerts opened since osierd started.");
    for (size_t i = 0; i < G_N_ELEMENTS(CLASSES); i++)
        labelled(out, "osier_alerts_opened_total", "class", CLASSES[i], tally->alerts[i]);
}

char *metrics_text(const json_t *status, const Tally *tally)
{
    GString *out = g_string_new(NULL);

    add_standing(out, status);
    add_lines(out, status);
    add_hooks(out, status);
    add_keeping(out, status);
    add_tally(out, tally);
    g_string_append(out, "# EOF\n");
    return g_string_free(out, FALSE);
}
