/* SPDX-License-Identifier: Apache-2.0 */
/* One day of a hosted service, by simulation: so many clients over all zones of the system's database, a reminder each, lines
 * that take so many texts a second. What falls due is worked out as osier works it out (core/calendar); what waits is counted
 * second by second. Prints the peak and the backlog.
 *
 *   day [CLIENTS [DATE]]
 *
 * Two made-up ways of living stand for the edges: clients spread alike over the zones, and half of all in one. When in the day
 * people want to be asked is made up as well: three in ten at 08:00, the rest spread over half hours from 07:30 to 20:30. */
#include <glib.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "core/calendar/sessions.h"
#include "daemon/zones.h"

#define ZONE_TABLE "/usr/share/zoneinfo/zone1970.tab"
/* A local date begins at most 14 h before it does in UTC and ends at most 12 h after; and reminders may wait. */
#define BEFORE_S (14 * 3600)
#define SPAN_S (72 * 3600)
#define MORNING (8 * 3600)
#define FIRST (7 * 3600 + 1800)
#define LAST (20 * 3600 + 1800)
/* reminders.ends of docs/configuration.md: a reminder that waits longer is not sent. */
#define ENDS_S (3 * 3600)
/* Texts a second of one line: the example of config/clinic.yaml. */
#define LINE_RATE 5

typedef struct {
    char **names;
    int count;
    Zones *zones;
    Day date;
} Places;

/* What falls due in each second, by zone (rows of SPAN_S). */
typedef struct {
    int64_t *due;
    int64_t *total;  /* of all zones */
    int first, last; /* seconds in which something falls due */
    int zones;
    int64_t clients;
} Herd;

typedef struct {
    int64_t sent, lapsed;
    int64_t backlog; /* the most that waited at once */
    int backlog_at;  /* in which second */
    int waited;      /* the longest that one that was sent had waited */
} Account;

static Places read_places(const char *date)
{
    Places places = {.zones = zones_new()};
    g_autofree char *text = NULL;
    g_autoptr(GPtrArray) names = g_ptr_array_new();

    if (!day_parse(date, &places.date)) g_error("%s is no date", date);
    if (!g_file_get_contents(ZONE_TABLE, &text, NULL, NULL)) g_error("no %s", ZONE_TABLE);
    g_auto(GStrv) lines = g_strsplit(text, "\n", -1);
    for (int i = 0; lines[i] != NULL; i++) {
        g_auto(GStrv) fields = g_strsplit(lines[i], "\t", -1);
        if (lines[i][0] != '#' && g_strv_length(fields) >= 3)
            g_ptr_array_add(names, g_strdup(fields[2]));
    }
    places.count = (int)names->len;
    g_ptr_array_add(names, NULL);
    places.names = (char **)g_ptr_array_free(g_steal_pointer(&names), FALSE);
    return places;
}

static void free_places(Places *places)
{
    g_strfreev(places->names);
    zones_free(places->zones);
}

/* --- what falls due --- */

/* The second of the span at which a local time of the date comes in a zone; -1 where the date does not exist there. */
static int second_of(const Places *places, int zone, int time)
{
    const SessionTimes times = {.from = places->date,
                                .to = places->date,
                                .times = {time},
                                .n_times = 1,
                                .near = zones_near(places->zones, places->names[zone])};
    SessionInstant instant;
    int64_t midnight = places->date * DAY_MS;

    if (!sessions_after(&times, zones_get(places->zones, places->names[zone]),
                        midnight - 2 * DAY_MS, &instant))
        return -1;
    return (int)((instant.ms - midnight) / 1000) + BEFORE_S;
}

static void add(Herd *herd, const Places *places, int zone, int time, int64_t clients)
{
    int second = second_of(places, zone, time);

    if (second < 0) return;
    g_assert(second < SPAN_S);
    herd->due[(size_t)zone * SPAN_S + (size_t)second] += clients;
    herd->total[second] += clients;
    herd->first = MIN(herd->first, second);
    herd->last = MAX(herd->last, second);
    herd->clients += clients;
}

/* To the last client: what does not divide goes to the morning. */
static void settle(Herd *herd, const Places *places, int zone, int64_t clients)
{
    int times = (LAST - FIRST) / 1800 + 1;
    int64_t each = clients * 7 / 10 / times;

    for (int i = 0; i < times; i++)
        add(herd, places, zone, FIRST + i * 1800, each);
    add(herd, places, zone, MORNING, clients - each * times);
}

static Herd make_herd(const Places *places, int64_t clients, int half_in)
{
    Herd herd = {.due = g_new0(int64_t, (gsize)places->count * SPAN_S),
                 .total = g_new0(int64_t, SPAN_S),
                 .first = SPAN_S,
                 .zones = places->count};
    int64_t spread = half_in >= 0 ? clients / 2 : clients;
    int64_t left = clients;

    for (int zone = 0; zone < places->count; zone++) {
        int64_t here = zone == half_in ? clients - spread : 0;
        here += zone + 1 < places->count ? spread / places->count
                                         : spread - spread / places->count * (places->count - 1);
        settle(&herd, places, zone, here);
        left -= here;
    }
    g_assert(left == 0);
    return herd;
}

static void free_herd(Herd *herd)
{
    g_free(herd->due);
    g_free(herd->total);
}

static int64_t due_in(const Herd *herd, int zone, int second)
{
    return herd->due[(size_t)zone * SPAN_S + (size_t)second];
}

/* The most that falls due within so many seconds, and when. */
static int64_t peak_of(const Herd *herd, int seconds, int *at)
{
    int64_t most = 0, now = 0;

    for (int second = 0; second < SPAN_S; second++) {
        now += herd->total[second];
        if (second >= seconds) now -= herd->total[second - seconds];
        if (now > most) *at = MAX(0, second - seconds + 1);
        most = MAX(most, now);
    }
    return most;
}

/* --- what waits --- */

/* One queue, first come first sent, of what falls due in the zones from..to. What reaches its end is not sent. */
static void run_queue(const Herd *herd, int from, int to, double rate, Account *account,
                      int64_t *waiting)
{
    g_autofree int64_t *left = g_new0(int64_t, SPAN_S);
    int64_t backlog = 0;
    int oldest = herd->first;
    double allowed = 0;

    for (int second = herd->first; second <= herd->last + ENDS_S; second++) {
        for (int zone = from; zone < to; zone++)
            left[second] += due_in(herd, zone, second);
        backlog += left[second];
        allowed = MIN(allowed + rate, rate + 1);
        for (; oldest <= second && (left[oldest] == 0 || oldest + ENDS_S <= second); oldest++) {
            account->lapsed += left[oldest];
            backlog -= left[oldest];
        }
        while (allowed >= 1 && backlog > 0) {
            int64_t now = MIN(left[oldest], (int64_t)allowed);
            left[oldest] -= now;
            backlog -= now;
            allowed -= (double)now;
            account->sent += now;
            if (now > 0) account->waited = MAX(account->waited, second - oldest);
            while (oldest < second && left[oldest] == 0)
                oldest++;
        }
        waiting[second] += backlog;
    }
}

/* Lines shared by all, or each zone's own in proportion to its clients: texts to a country go by its lines. */
static Account run_day(const Herd *herd, double rate, bool own)
{
    g_autofree int64_t *waiting = g_new0(int64_t, SPAN_S);
    Account account = {0};

    if (!own) run_queue(herd, 0, herd->zones, rate, &account, waiting);
    for (int zone = 0; zone < herd->zones && own; zone++) {
        int64_t here = 0;
        for (int second = herd->first; second <= herd->last; second++)
            here += due_in(herd, zone, second);
        run_queue(herd, zone, zone + 1, rate * (double)here / (double)herd->clients, &account,
                  waiting);
    }
    for (int second = 0; second < SPAN_S; second++)
        if (waiting[second] > account.backlog) {
            account.backlog = waiting[second];
            account.backlog_at = second;
        }
    g_assert(account.sent + account.lapsed == herd->clients);
    return account;
}

/* --- telling --- */

static char *clock_of(int second)
{
    int minute = (second - BEFORE_S) / 60;

    return g_strdup_printf("%s%02d:%02d UTC", minute < 0 ? "the day before, " : "",
                           (minute + 1440) / 60 % 24, (minute + 1440) % 60);
}

static void tell_lines(const Herd *herd, double rate, bool own)
{
    Account account = run_day(herd, rate, own);
    g_autofree char *at = clock_of(account.backlog_at);

    printf("  %9.0f %9.0f  %-13s %12" G_GINT64_FORMAT "  %-26s %3d min %10" G_GINT64_FORMAT "\n",
           rate, rate / LINE_RATE, own ? "each zone's" : "shared", account.backlog, at,
           account.waited / 60, account.lapsed);
}

static void tell(const char *name, const Herd *herd)
{
    static const double HOURS[] = {24, 12, 6, 3, 1};
    int at = 0;
    int64_t instant = peak_of(herd, 1, &at);
    g_autofree char *when = clock_of(at);
    int64_t minute = peak_of(herd, 60, &at), hour = peak_of(herd, 3600, &at);

    printf("%s\n  due at one instant at most %" G_GINT64_FORMAT
           " (%s), in one minute %" G_GINT64_FORMAT ", in one hour %" G_GINT64_FORMAT
           "\n\n  texts a s     lines  lines are     most waiting  at"
           "                         longest     lapsed\n",
           name, instant, when, minute, hour);
    for (size_t i = 0; i < G_N_ELEMENTS(HOURS); i++) {
        double rate = (double)herd->clients / (HOURS[i] * 3600);
        tell_lines(herd, rate, false);
        tell_lines(herd, rate, true);
    }
    putchar('\n');
}

int main(int argc, char **argv)
{
    int64_t clients = argc > 1 ? g_ascii_strtoll(argv[1], NULL, 10) : 10000000;
    Places places = read_places(argc > 2 ? argv[2] : "2026-03-29");
    int london = 0;

    while (london < places.count - 1 && strcmp(places.names[london], "Europe/London") != 0)
        london++;
    Herd alike = make_herd(&places, clients, -1), half = make_herd(&places, clients, london);
    printf("%" G_GINT64_FORMAT " clients, a reminder each on %s, %d zones; a line takes %d texts a "
           "second; a reminder lapses after %d h\n\n",
           clients, argc > 2 ? argv[2] : "2026-03-29", places.count, LINE_RATE, ENDS_S / 3600);
    tell("clients spread alike over the zones", &alike);
    tell("half of them in Europe/London", &half);
    free_herd(&alike);
    free_herd(&half);
    free_places(&places);
    return 0;
}
