/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/control/health.h"

#include <stdarg.h>
#include <string.h>

#include "adapters/files/zones.h"
#include "core/calendar/date.h"
#include "core/calendar/zone.h"

/* A gateway that was not reached for so long while it is asked for replies. */
#define DEAF_WORTH_MS (15 * MINUTE_MS)
#define ROOM_SCARCE 200000000 /* bytes */
#define ROOM_GONE 20000000
#define ZONES_OLD_MS (365 * DAY_MS)

typedef struct {
    const json_t *status;
    json_t *notes;
    GTimeZone *zone;
    int64_t now_ms;
} Look;

static int64_t count(const Look *look, const char *field)
{
    return json_integer_value(json_object_get(look->status, field));
}

static const char *text(const json_t *object, const char *field)
{
    return json_string_value(json_object_get(object, field));
}

static void G_GNUC_PRINTF(4, 5)
    note(Look *look, bool grave, const char *what_to_do, const char *say, ...)
{
    va_list list;

    va_start(list, say);
    g_autofree char *sentence = g_strdup_vprintf(say, list);
    va_end(list);
    json_array_append_new(look->notes, json_pack("{s:b, s:s, s:s}", "grave", grave, "say", sentence,
                                                 "do", what_to_do));
}

/* "Monday 2 March 2026, 08:00" in the clinic's zone. */
static char *spoken(GTimeZone *zone, int64_t ms)
{
    g_autoptr(GDateTime) utc = g_date_time_new_from_unix_utc(ms / 1000);
    g_autoptr(GDateTime) local = g_date_time_to_timezone(utc, zone);
    /* The English names, whatever the machine's language */
    static const char *const DAYS[] = {"",         "Monday", "Tuesday",  "Wednesday",
                                       "Thursday", "Friday", "Saturday", "Sunday"};
    static const char *const MONTHS[] = {"",        "January",  "February", "March",  "April",
                                         "May",     "June",     "July",     "August", "September",
                                         "October", "November", "December"};

    return g_strdup_printf("%s %d %s %d, %02d:%02d", DAYS[g_date_time_get_day_of_week(local)],
                           g_date_time_get_day_of_month(local),
                           MONTHS[g_date_time_get_month(local)], g_date_time_get_year(local),
                           g_date_time_get_hour(local), g_date_time_get_minute(local));
}

static char *spoken_field(const Look *look, const json_t *object, const char *field)
{
    int64_t ms;

    if (text(object, field) == NULL || !instant_parse(text(object, field), &ms)) return NULL;
    return spoken(look->zone, ms);
}

/* "1 reply waits", "3 replies wait" */
static const char *by_number(int64_t n, const char *one, const char *many)
{
    return n == 1 ? one : many;
}

static bool writes(const Look *look)
{
    return !json_is_false(json_object_get(json_object_get(look->status, "store"), "writes"));
}

/* --- people --- */

static void look_at_people(Look *look)
{
    int64_t now = count(look, "untaken_now");
    int64_t today = count(look, "alerts_today");
    int64_t unread = count(look, "unread");
    int64_t glance = count(look, "glance");
    g_autofree char *since = spoken_field(look, look->status, "oldest_unread");

    if (now > 0)
        note(look, true,
             writes(look) ? "Tell a clinician; see: osier alerts"
                          : "Ring a clinician yourself; see: osier alerts",
             "%d urgent %s taken by nobody yet; %s.", (int)now,
             by_number(now, "matter is", "matters are"),
             writes(look) ? "osier goes on calling the duty list"
                          : "osier can call nobody while it cannot write");
    if (today > 0)
        note(look, false, "See: osier alerts", "%d %s for a clinician today.", (int)today,
             by_number(today, "matter is open", "matters are open"));
    if (unread > 0)
        note(look, false, "See: osier unread",
             "%d %s until somebody reads and settles %s; the oldest came on %s.", (int)unread,
             by_number(unread, "reply waits", "replies wait"), by_number(unread, "it", "them"),
             since != NULL ? since : "an unknown day");
    if (glance > 0)
        note(look, false, "See: osier glance", "%d %s well; somebody should still see %s once.",
             (int)glance, by_number(glance, "reply was read", "replies were read"),
             by_number(glance, "it", "them"));
}

/* --- sending and listening --- */

/* True, and said once, where no gateway can be reached: then none of them is at fault. */
static bool look_at_line(Look *look)
{
    const json_t *line = json_object_get(look->status, "line");
    g_autofree char *since = spoken_field(look, line, "since");

    if (!json_is_true(json_object_get(line, "down"))) return false;
    note(look, true, "Look at the router and the line; osier goes on by itself once it is back.",
         "The line is down since %s: no gateway can be reached. Nothing is lost: %d %s.",
         since != NULL ? since : "some time", (int)count(look, "waiting"),
         by_number(count(look, "waiting"), "message waits", "messages wait"));
    return true;
}

static void look_at_program(Look *look, const json_t *gateway)
{
    const json_t *program = json_object_get(gateway, "program");
    const char *problem = text(program, "problem"), *words = text(program, "words");
    bool ready = g_strcmp0(text(program, "state"), "ready") == 0;

    /* Where another installation sends, it is not started. */
    if (program == NULL || json_is_false(json_object_get(look->status, "sender"))) return;
    if (!ready)
        note(look, true, "Try it: osier check-program",
             "The program of the gateway %s does not run%s%s.", text(gateway, "name"),
             problem != NULL ? ": it " : "", problem != NULL ? problem : "");
    else if (json_is_false(json_object_get(program, "well")))
        note(look, true, "Look at what it serves; it is given messages again once it says well.",
             "The program of the gateway %s says that it is not well%s%s. It is given nothing.",
             text(gateway, "name"), words != NULL ? ": " : "", words != NULL ? words : "");
}

static void look_at_gateway(Look *look, const json_t *gateway)
{
    const char *name = text(gateway, "name");
    const char *problem = text(gateway, "problem");
    bool mail = g_strcmp0(text(gateway, "kind"), "mail") == 0;
    bool sends = !json_is_false(json_object_get(look->status, "sender"));

    /* A laptop beside the replica that sends has such a gateway on purpose. */
    if (json_is_false(json_object_get(gateway, "sends")) && !sends) return;
    if (json_is_false(json_object_get(gateway, "sends")))
        note(look, false, "Set a gateway in clinic.yaml when you go live.",
             "NOTHING IS SENT by the gateway %s: it writes messages to the folder spool.", name);
    else if (g_strcmp0(text(gateway, "circuit"), "closed") != 0)
        note(look, true,
             "Look at the line, and at the gateway's account and key; osier tries again by itself.",
             "%s get out: the gateway %s fails%s%s%s. Nothing is lost: %d %s.",
             mail ? "Mails do not" : "Texts do not", name, problem != NULL ? " (" : "",
             problem != NULL ? problem : "", problem != NULL ? ")" : "",
             (int)count(look, "waiting"),
             by_number(count(look, "waiting"), "message waits", "messages wait"));
}

static void look_at_poll(Look *look, const json_t *poll)
{
    int64_t last_ms = 0;
    bool heard = text(poll, "last") != NULL && instant_parse(text(poll, "last"), &last_ms);
    g_autofree char *when = heard ? spoken(look->zone, last_ms) : NULL;

    if (json_integer_value(json_object_get(poll, "failures")) < 2) return;
    if (heard && look->now_ms - last_ms < DEAF_WORTH_MS) return;
    note(look, true, "Look at the line, and at the gateway's account and key.",
         "Replies do not come in: the gateway %s %s%s. They are fetched once it answers.",
         text(poll, "name"), heard ? "last answered on " : "has not answered since osier started",
         heard ? when : "");
}

/* How long ago; a day for what never was. */
static int64_t ago_ms(const Look *look, const json_t *object, const char *field)
{
    int64_t ms;

    if (text(object, field) == NULL || !instant_parse(text(object, field), &ms)) return DAY_MS;
    return look->now_ms - ms;
}

/* Never grave: a stranger can bring it about. An hour of nothing else is told in an alert. A stranger's noise passes after a day. */
static void look_at_hook(Look *look, const json_t *hook)
{
    const char *name = text(hook, "name");
    bool refuses = text(hook, "since") != NULL && ago_ms(look, hook, "last") < DAY_MS;
    g_autofree char *since = spoken_field(look, hook, "since");

    if (refuses)
        note(look, false,
             "Compare the webhook's secret with the gateway's; if they agree, a stranger calls.",
             "Webhooks of the gateway %s are refused since %s, and none was accepted since: their "
             "signature does not hold. Replies may be missing.",
             name, since);
    if (ago_ms(look, hook, "unreadable_last") < DAY_MS)
        note(look, false, "Compare receipts.webhook in clinic.yaml with what the gateway sends.",
             "Receipts of the gateway %s cannot be read: %d since osier started.", name,
             (int)json_integer_value(json_object_get(hook, "unreadable")));
}

static void look_at_hooks(Look *look)
{
    size_t i;
    json_t *hook;

    if (json_is_false(json_object_get(look->status, "sender"))) return;
    json_array_foreach(json_object_get(look->status, "hooks"), i, hook) look_at_hook(look, hook);
}

static void look_at_lines(Look *look)
{
    size_t i;
    json_t *line;

    if (json_is_false(json_object_get(look->status, "sender")))
        note(look, false, "See: osier sender show",
             "This installation sends nothing: another one of the clinic does.");
    if (count(look, "no_receipt") > 0)
        note(look, false, "See: osier messages; ask the gateway if it stays so.",
             "%d %s accepted this week, but the gateway never told whether %s arrived.",
             (int)count(look, "no_receipt"),
             by_number(count(look, "no_receipt"), "message was", "messages were"),
             by_number(count(look, "no_receipt"), "it", "they"));
    json_array_foreach(json_object_get(look->status, "gateways"), i, line)
        look_at_program(look, line);
    if (look_at_line(look)) return;
    json_array_foreach(json_object_get(look->status, "gateways"), i, line)
        look_at_gateway(look, line);
    json_array_foreach(json_object_get(look->status, "polls"), i, line) look_at_poll(look, line);
}

/* --- the machine --- */

/* What is left is told before it is gone: a night's copy alone may take as much as the store. */
static void look_at_room(Look *look)
{
    const json_t *left = json_object_get(json_object_get(look->status, "store"), "free");
    int64_t bytes = json_integer_value(left);

    if (!json_is_integer(left) || bytes >= ROOM_SCARCE) return;
    note(look, bytes < ROOM_GONE, "Make room there: without any, nothing is sent or taken in.",
         "The device of the clinic's folder is nearly full: %d MB are left.",
         (int)(bytes / 1000000));
}

static void look_at_store(Look *look)
{
    const json_t *store = json_object_get(look->status, "store");

    if (writes(look)) return;
    note(
        look, true, "Make room on that device; osier goes on by itself.",
        "NOTHING CAN BE WRITTEN: %s. So nothing is sent and no reply is taken in; whom to ring can "
        "still be looked up (osier alerts, osier calls).",
        text(store, "problem") != NULL ? text(store, "problem") : "the device has no room");
}

static void look_at_copies(Look *look)
{
    const json_t *backup = json_object_get(look->status, "backup");

    if (!json_is_object(backup))
        note(look, false, "Set backup in clinic.yaml, and bring copies off this machine.",
             "No copy is made at night: if this machine breaks, the record is gone.");
    else if (text(backup, "problem") != NULL)
        note(look, true, "Make room or mend the folder backups; then: osier backup FILE",
             "The last copy at night failed: %s.", text(backup, "problem"));
}

static void look_at_zones(Look *look)
{
    int64_t released_ms = 0;
    g_autofree char *version = zone_database(NULL, &released_ms);
    g_autofree char *released = version != NULL ? instant_format(released_ms) : NULL;
    bool old = version != NULL && look->now_ms - released_ms > ZONES_OLD_MS;

    json_object_set_new(
        (json_t *)look->status, "zones",
        json_pack("{s:s?, s:s?, s:b}", "version", version, "released", released, "old", old));
    if (old)
        note(look, false, "Update the package tzdata, then start osierd again.",
             "The zone database is of %s, over a year old: where clocks change by a newer rule, "
             "reminders come an hour off.",
             version);
    else if (version == NULL)
        note(look, false, "Install the package tzdata.",
             "The zone database does not tell its version.");
}

/* --- all of it --- */

/* What has left the settings idles until osierd stops, and is nobody's concern. */
static void leave_out_gone(json_t *status, const char *list, const Clinic *clinic)
{
    json_t *lines = json_object_get(status, list);

    for (size_t i = json_array_size(lines); i-- > 0;)
        if (clinic_gateway(clinic, text(json_array_get(lines, i), "name")) == NULL)
            json_array_remove(lines, i);
}

static bool is_grave(const json_t *notes)
{
    size_t i;
    json_t *one;

    json_array_foreach(notes, i, one)
    {
        if (json_is_true(json_object_get(one, "grave"))) return true;
    }
    return false;
}

void health_add(json_t *status, const Clinic *clinic)
{
    Look look = {.status = status, .notes = json_array(), .zone = zone_load(clinic->zone)};

    if (look.zone == NULL) look.zone = g_time_zone_new_utc();
    instant_parse(text(status, "now"), &look.now_ms);
    g_autofree char *local = spoken(look.zone, look.now_ms);
    json_object_set_new(status, "local", json_string(local));
    leave_out_gone(status, "gateways", clinic);
    leave_out_gone(status, "polls", clinic);
    leave_out_gone(status, "hooks", clinic);
    look_at_store(&look);
    look_at_room(&look);
    look_at_people(&look);
    look_at_lines(&look);
    look_at_hooks(&look);
    look_at_copies(&look);
    look_at_zones(&look);
    const char *state = json_array_size(look.notes) == 0 ? "well"
                        : is_grave(look.notes)           ? "ill"
                                                         : "look";
    json_object_set_new(status, "state", json_string(state));
    json_object_set_new(status, "notes", look.notes);
    g_time_zone_unref(look.zone);
}

json_t *health_brief(const json_t *status)
{
    const json_t *notes = json_object_get(status, "notes");
    int grave = 0;
    size_t i;
    json_t *one;

    json_array_foreach(notes, i, one)
    {
        grave += json_is_true(json_object_get(one, "grave"));
    }
    return json_pack("{s:s, s:s, s:i, s:i}", "state", text(status, "state"), "now",
                     text(status, "now"), "notes", (int)json_array_size(notes), "grave", grave);
}
