/* SPDX-License-Identifier: Apache-2.0 */
#include "core/paper/record.h"

#include "core/calendar/zone.h"
#include "core/paper/words.h"
#include "core/talk/wording.h"
#include "core/watch/matter.h"

/* Of each list, on paper that tells nothing word for word: two pages are to be enough. */
#define LATEST 16

typedef struct {
    const Pack *pack;
    const json_t *summary;
    GTimeZone *zone;
    Paper *sheet;
    bool whole;
} Desk;

static const char *text_of(const json_t *object, const char *field)
{
    return json_string_value(json_object_get(object, field));
}

/* What the programme calls it, in the paper's language. */
static const char *told(const Desk *desk, const json_t *object, const char *field)
{
    const char *text = text_of(object, field);

    return text != NULL ? pack_programme_text(desk->pack, text) : NULL;
}

static char *say(const Desk *desk, const char *key)
{
    return wording(desk->pack, key, NULL);
}

static void add(const Desk *desk, BlockKind kind, const char *key)
{
    g_autofree char *text = say(desk, key);

    paper_add(desk->sheet, kind, text);
}

static void add_pair(const Desk *desk, const char *key, const char *text)
{
    g_autofree char *name = say(desk, key);

    if (text != NULL && *text != '\0') paper_mark(desk->sheet, BLOCK_PAIR, name, text);
}

/* The local day of an instant of the document, or "". With the time of day where clock is set. */
static char *day_of(const Desk *desk, const json_t *object, const char *field, bool clock)
{
    int64_t ms;
    const char *text = text_of(object, field);

    if (text == NULL || !instant_parse(text, &ms)) return g_strdup("");
    LocalTime local = zone_local(desk->zone, ms);
    g_autofree char *day = wording_day(desk->pack, local.day);
    if (!clock) return g_steal_pointer(&day);
    return g_strdup_printf("%s, %02d:%02d", day, local.second / 3600, local.second / 60 % 60);
}

static void add_row(const Desk *desk, const double *share, int n, const char *const *cells)
{
    paper_row(desk->sheet, false, share, n, cells);
}

static void add_head(const Desk *desk, const double *share, int n, const char *const *keys)
{
    char *cells[SHEET_COLUMNS_MAX] = {NULL};

    for (int i = 0; i < n; i++)
        cells[i] = say(desk, keys[i]);
    paper_row(desk->sheet, true, share, n, (const char *const *)cells);
    for (int i = 0; i < n; i++)
        g_free(cells[i]);
}

/* Where the list begins that is shown; says how many are left out. */
static size_t first_shown(const Desk *desk, const json_t *list)
{
    size_t n = json_array_size(list);

    if (desk->whole || n <= LATEST) return 0;
    g_autofree char *number = g_strdup_printf("%zu", n - LATEST);
    g_autofree char *note = wording(desk->pack, "record-more", "value", number, NULL);
    paper_add(desk->sheet, BLOCK_SMALL, note);
    return n - LATEST;
}

/* --- the person ----------------------------------------------------------------------------------- */

static void add_person(const Desk *desk, const char *clinic, Day today)
{
    const json_t *person = desk->summary;
    g_autofree char *day = wording_day(desk->pack, today);
    g_autofree char *line =
        g_strdup_printf("%s  ·  %s  ·  %s", text_of(person, "client"), clinic, day);
    g_autofree char *title =
        wording(desk->pack, "record-title", "name", text_of(person, "name"), NULL);
    json_int_t born = json_integer_value(json_object_get(person, "born"));
    g_autofree char *year = born > 0 ? g_strdup_printf("%" JSON_INTEGER_FORMAT, born) : NULL;
    g_autofree char *phone =
        text_of(person, "phone") != NULL ? wording_phone(text_of(person, "phone")) : NULL;
    const json_t *bars = json_object_get(person, "bars");
    size_t i;
    json_t *bar;

    paper_add(desk->sheet, BLOCK_TITLE, title);
    paper_add(desk->sheet, BLOCK_SMALL, line);
    add_pair(desk, "record-born", year);
    add_pair(desk, "record-phone", phone);
    add_pair(desk, "record-mail", text_of(person, "email"));
    add_pair(desk, "record-needs", text_of(person, "needs"));
    add_pair(desk, "record-clinician", text_of(json_object_get(person, "plan"), "clinician"));
    json_array_foreach((json_t *)bars, i, bar)
    {
        g_autofree char *words = digest_words_bar(text_of(bar, "kind"), desk->pack);
        g_autofree char *since = day_of(desk, bar, "since", false);
        g_autofree char *told = g_strdup_printf("%s, %s", words != NULL ? words : "-", since);
        add_pair(desk, "record-now", told);
    }
}

static const char *channel_key(const char *channel)
{
    return g_strcmp0(channel, "sms") == 0     ? "record-texts"
           : g_strcmp0(channel, "email") == 0 ? "record-mail"
                                              : "record-phone";
}

static void add_consents(const Desk *desk)
{
    const json_t *list = json_object_get(desk->summary, "consents");
    size_t i;
    json_t *consent;

    add(desk, BLOCK_HEADING, "record-consent");
    if (json_array_size(list) == 0) add(desk, BLOCK_TEXT, "record-none");
    json_array_foreach((json_t *)list, i, consent)
    {
        add_pair(desk, channel_key(text_of(consent, "channel")), text_of(consent, "how"));
    }
}

static void add_screen(const Desk *desk)
{
    const json_t *screen = json_object_get(desk->summary, "screen");
    const json_t *findings = json_object_get(screen, "findings");
    size_t i;
    json_t *finding;

    add(desk, BLOCK_HEADING, "record-screen");
    if (!json_is_object(screen)) {
        add(desk, BLOCK_TEXT, "record-none");
        return;
    }
    g_autofree char *day = day_of(desk, screen, "at", false);
    g_autofree char *by = g_strdup_printf("%s, %s", day, text_of(screen, "by"));
    paper_add(desk->sheet, BLOCK_TEXT, by);
    add(desk, BLOCK_TEXT,
        json_is_true(json_object_get(screen, "floor")) ? "record-floor" : "record-no-floor");
    if (json_is_true(json_object_get(screen, "clear"))) add(desk, BLOCK_TEXT, "record-clear");
    json_array_foreach((json_t *)findings, i, finding)
    {
        paper_mark(desk->sheet, BLOCK_ITEM, "•", json_string_value(finding));
    }
}

static void add_stages(const Desk *desk)
{
    static const double SHARE[] = {0.24, 0.46, 0.30};
    static const char *const HEAD[] = {"record-date", "record-stage", "record-by"};
    const json_t *list = json_object_get(desk->summary, "stages");

    add(desk, BLOCK_HEADING, "record-stages");
    if (json_array_size(list) == 0) {
        add(desk, BLOCK_TEXT, "record-none");
        return;
    }
    size_t first = first_shown(desk, list);
    add_head(desk, SHARE, 3, HEAD);
    for (size_t i = first; i < json_array_size(list); i++) {
        const json_t *stage = json_array_get(list, i);
        g_autofree char *day = day_of(desk, stage, "at", false);
        const char *by = text_of(stage, "by");
        /* Where the command was given without a name, nobody is named. */
        const char *const cells[] = {day, told(desk, stage, "title"),
                                     g_strcmp0(by, "command") != 0 ? by : "-"};
        add_row(desk, SHARE, 3, cells);
    }
}

/* --- what was measured, what was acted on ----------------------------------------------------------- */

static char *with_unit(const Desk *desk, const char *number, const char *unit)
{
    if (strcmp(unit, "deg") == 0) return g_strdup_printf("%s°", number);
    if (strcmp(unit, "points") == 0)
        return wording(desk->pack, "record-points", "value", number, NULL);
    return g_strdup_printf("%s %s", number, unit);
}

static void add_measures(const Desk *desk)
{
    static const double SHARE[] = {0.20, 0.36, 0.12, 0.14, 0.18};
    static const char *const HEAD[] = {"record-date", "record-what", "record-side", "record-value",
                                       "record-by"};
    const json_t *list = json_object_get(desk->summary, "measures");

    if (json_array_size(list) == 0) return;
    add(desk, BLOCK_HEADING, "record-measures");
    size_t first = first_shown(desk, list);
    add_head(desk, SHARE, 5, HEAD);
    for (size_t i = first; i < json_array_size(list); i++) {
        const json_t *measure = json_array_get(list, i);
        const char *side = text_of(measure, "side");
        const char *unit = text_of(measure, "unit");
        g_autofree char *day = day_of(desk, measure, "at", false);
        g_autofree char *which =
            side == NULL ? NULL
                         : say(desk, strcmp(side, "right") == 0 ? "picture-right" : "picture-left");
        g_autofree char *number =
            paper_decimal(desk->pack, json_number_value(json_object_get(measure, "value")));
        g_autofree char *value = with_unit(desk, number, unit != NULL ? unit : "");
        const char *const cells[] = {day, told(desk, measure, "title"), which, value,
                                     text_of(measure, "by")};
        add_row(desk, SHARE, 5, cells);
    }
}

static char *kind_of(const Desk *desk, const json_t *alert)
{
    const json_t *reasons = json_object_get(alert, "reasons");
    double number = 0;
    g_autofree char *value =
        reasons_number(reasons, &number) ? paper_decimal(desk->pack, number) : NULL;

    return wording_kind(desk->pack, matter_named(text_of(alert, "kind"), reasons), value);
}

/* "closed: goes on, R. Okafor: rang her" */
static char *ending_of(const Desk *desk, const json_t *alert)
{
    const char *state = text_of(alert, "state");
    const char *note = text_of(alert, "note");

    if (g_strcmp0(state, "closed") != 0)
        return g_strcmp0(state, "taken") == 0
                   ? wording(desk->pack, "digest-taken", "by", text_of(alert, "taken_by"), NULL)
                   : say(desk, "digest-open");
    g_autofree char *key = g_strdup_printf("digest-outcome-%s", text_of(alert, "outcome"));
    g_autofree char *outcome = pack_text(desk->pack, key) != NULL ? say(desk, key) : g_strdup("-");
    g_autofree char *day = day_of(desk, alert, "closed_at", false);
    return g_strdup_printf("%s, %s, %s%s%s", outcome, day, text_of(alert, "closed_by"),
                           note != NULL ? ": " : "", note != NULL ? note : "");
}

static void add_alerts(const Desk *desk)
{
    static const double SHARE[] = {0.22, 0.30, 0.48};
    static const char *const HEAD[] = {"record-date", "record-what", "record-outcome"};
    const json_t *list = json_object_get(desk->summary, "alerts");

    add(desk, BLOCK_HEADING, "record-alerts");
    if (json_array_size(list) == 0) {
        add(desk, BLOCK_TEXT, "record-none");
        return;
    }
    size_t first = first_shown(desk, list);
    add_head(desk, SHARE, 3, HEAD);
    for (size_t i = first; i < json_array_size(list); i++) {
        const json_t *alert = json_array_get(list, i);
        g_autofree char *day = day_of(desk, alert, "at", false);
        g_autofree char *kind = kind_of(desk, alert);
        g_autofree char *ending = ending_of(desk, alert);
        const char *const cells[] = {day, kind, ending};
        add_row(desk, SHARE, 3, cells);
    }
}

static void add_words(const Desk *desk)
{
    static const double SHARE[] = {0.28, 0.15, 0.57};
    static const char *const HEAD[] = {"record-date", "record-from", "record-text"};
    const json_t *list = json_object_get(desk->summary, "words");
    size_t i;
    json_t *item;

    if (!json_is_array(list)) return;
    add(desk, BLOCK_HEADING, "record-words");
    if (json_array_size(list) == 0) {
        add(desk, BLOCK_TEXT, "record-none");
        return;
    }
    add_head(desk, SHARE, 3, HEAD);
    json_array_foreach((json_t *)list, i, item)
    {
        bool ours = json_is_true(json_object_get(item, "ours"));
        g_autofree char *at = day_of(desk, item, "at", true);
        g_autofree char *who = say(desk, ours ? "record-ours" : "record-theirs");
        const char *text = text_of(item, "text");
        const char *const cells[] = {at, who, text != NULL ? text : "-"};
        add_row(desk, SHARE, 3, cells);
    }
}

Paper *record_sheet(const Pack *pack, const json_t *summary, GTimeZone *zone, const char *clinic,
                    Day today, Picture *course, bool letter)
{
    g_autofree char *title = wording(pack, "record-title", "name", text_of(summary, "name"), NULL);
    Paper *sheet = paper_new(title, RECORD_PT, letter);
    Desk desk = {.pack = pack,
                 .summary = summary,
                 .zone = zone,
                 .sheet = sheet,
                 .whole = json_is_array(json_object_get(summary, "words"))};

    sheet->footer = g_strdup_printf("%s  ·  %s", text_of(summary, "client"), clinic);
    sheet->page_words = g_strdup(pack_text(pack, "paper-page"));
    add_person(&desk, clinic, today);
    add_consents(&desk);
    add_screen(&desk);
    add_stages(&desk);
    if (course != NULL) {
        g_autofree char *alt = g_strdup(course->alt);
        add(&desk, BLOCK_HEADING, "record-course");
        paper_add(sheet, BLOCK_TEXT, alt);
        paper_picture(sheet, course, 0.9);
    }
    add_measures(&desk);
    add_alerts(&desk);
    add_words(&desk);
    return sheet;
}
