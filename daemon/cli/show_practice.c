/* SPDX-License-Identifier: Apache-2.0 */
/* Answers of practice as a person reads them. */
#include <stdio.h>
#include <string.h>

#include "daemon/cli/ask.h"
#include "daemon/cli/show_value.h"

static double number(const json_t *object, const char *field)
{
    return json_number_value(json_object_get(object, field));
}

/* --- measures --- */

static void print_measure(const json_t *measure)
{
    printf("%s  %s %s, %s: %.1f %s", show_text(measure, "date"), show_text(measure, "movement"),
           show_text(measure, "side"), show_text(measure, "method"), number(measure, "value"),
           show_text(measure, "unit"));
    if (show_has(measure, "reach_cm"))
        printf(" (from %.1f cm, leg %.1f cm%s)", number(measure, "reach_cm"),
               number(measure, "leg_cm"),
               json_is_true(json_object_get(measure, "leg_estimated")) ? " estimated from stature"
                                                                       : "");
    if (show_has(measure, "about_deg")) printf(" (about %g degrees)", number(measure, "about_deg"));
    printf(", by %s\n", show_text(measure, "by"));
    if (show_has(measure, "verdict"))
        printf("            %s beside %.1f on %s (change %+.1f, counts from %.1f)\n",
               show_text(measure, "verdict"), number(measure, "beside"),
               show_text(measure, "beside_date"), number(measure, "change"),
               number(measure, "mdc"));
}

void show_measure(const json_t *answer)
{
    print_measure(answer);
    if (json_is_true(json_object_get(answer, "supports_only")))
        puts("            measured by the client: it supports, and never decides");
    if (show_has(answer, "alert"))
        printf("            A sign that a clinician must look at: alert %.3s is open, osier why "
               "%.3s\n",
               show_text(answer, "alert"), show_text(answer, "alert"));
}

void show_measures(const json_t *answer)
{
    const json_t *list = json_object_get(answer, "measures");
    size_t i;
    json_t *item;

    if (json_array_size(list) == 0) {
        puts("Nothing measured yet. Write one down with: osier measure add --help");
        return;
    }
    json_array_foreach((json_t *)list, i, item) print_measure(item);
    json_array_foreach(json_object_get(answer, "sides"), i, item)
        printf("%s: left %.1f, right %.1f; right is %s (counts from %.1f)\n",
               show_text(item, "movement"), number(item, "left"), number(item, "right"),
               show_text(item, "right_is"), number(item, "mdc"));
    json_array_foreach(json_object_get(answer, "outlook"), i, item)
    {
        if (!show_has(item, "to_goal")) continue;
        printf("%s %s: goal %.1f, %s", show_text(item, "movement"), show_text(item, "side"),
               number(item, "goal"), show_text(item, "to_goal"));
        if (show_has(item, "slope_a_week"))
            printf(" (%+.1f a week over %d readings)", number(item, "slope_a_week"),
                   (int)number(item, "readings"));
        putchar('\n');
    }
}

/* --- readiness --- */

static void print_value(const json_t *value, const char *none)
{
    if (json_is_string(value))
        fputs(json_string_value(value), stdout);
    else if (json_is_number(value))
        printf("%g", json_number_value(value));
    else
        fputs(none, stdout);
}

static void print_limit(const json_t *limit)
{
    if (json_is_number(limit)) printf(", limit %g", json_number_value(limit));
    if (json_is_string(limit)) printf(" (%s)", json_string_value(limit));
}

void show_ready(const json_t *answer)
{
    size_t i;
    json_t *reason;

    printf("%s", show_text(answer, "verdict"));
    if (strcmp(show_text(answer, "to"), show_text(answer, "stage")) != 0)
        printf(": from %s to %s", show_text(answer, "stage"), show_text(answer, "to"));
    else
        printf(" at %s", show_text(answer, "stage"));
    printf(", there since %s\n", show_text(answer, "stage_since"));
    json_array_foreach(json_object_get(answer, "reasons"), i, reason)
    {
        bool back = g_str_has_prefix(show_text(reason, "rule"), "step back");
        bool met = json_is_true(json_object_get(reason, "met"));
        printf("  %s %s: ", back ? (met ? "!" : " ") : (met ? "+" : "-"),
               show_text(reason, "rule"));
        print_value(json_object_get(reason, "value"), "nothing told");
        print_limit(json_object_get(reason, "limit"));
        putchar('\n');
    }
    if (json_is_true(json_object_get(answer, "window_void")))
        puts("Two weeks off: what was told before no longer counts. Ask what happened.");
    if (json_is_true(json_object_get(answer, "one_dose_lower")))
        puts("Go on one dose lower until the window is full again.");
    puts("A clinician confirms: osier plan move.");
}

/* --- plans --- */

static void print_week(const json_t *week, const char *which)
{
    size_t i;
    json_t *item;

    json_array_foreach((json_t *)week, i, item)
    {
        const json_t *still = json_object_get(item, "static_min");
        const json_t *repetitions = json_object_get(item, "repetitions");
        printf("  %s, each side: %s", which, show_text(item, "muscle"));
        if (json_number_value(json_array_get(repetitions, 1)) > 0)
            printf(", %g to %g repetitions", json_number_value(json_array_get(repetitions, 0)),
                   json_number_value(json_array_get(repetitions, 1)));
        if (json_number_value(json_array_get(still, 1)) > 0)
            printf(", held still %g to %g minutes (ACSM 2011 %s, Thomas 2018 %s)",
                   json_number_value(json_array_get(still, 0)),
                   json_number_value(json_array_get(still, 1)), show_text(item, "acsm_2011"),
                   show_text(item, "thomas_2018"));
        putchar('\n');
    }
}

/* What was told of the last seven days. */
static void print_done(const json_t *done)
{
    if (number(done, "done") + number(done, "partly") <= 0) return;
    printf("  told in the last seven days: %g done, %g in part, on %g days\n", number(done, "done"),
           number(done, "partly"), number(done, "days"));
    print_week(json_object_get(done, "muscles"), "that is");
}

static void print_movement(const json_t *movement)
{
    printf("  %s: %s%s%s\n", show_text(movement, "title"), show_text(movement, "dose"),
           json_is_true(json_object_get(movement, "dose_set_for_client")) ? " (set for this client)"
                                                                          : "",
           json_is_true(json_object_get(movement, "one_dose_lower"))
               ? " (one dose lower after time off)"
               : "");
    if (show_has(movement, "set_up"))
        printf("    set-up %s%s\n", show_text(movement, "set_up"),
               json_is_true(json_object_get(movement, "set_up_set_for_client"))
                   ? " (set for this client)"
                   : "");
}

static void print_start(const json_t *start)
{
    size_t i;
    json_t *reason;

    if (start == NULL) return;
    printf("why it begins there: set-up %s\n", show_text(start, "set_up"));
    json_array_foreach(json_object_get(start, "reasons"), i, reason)
    {
        printf("  %s: ", show_text(reason, "rule"));
        print_value(json_object_get(reason, "value"), "");
        print_limit(json_object_get(reason, "limit"));
        putchar('\n');
    }
}

/* "Mon" of "MO", or NULL. */
static const char *weekday_name(const char *code)
{
    static const char *const NAMES[] = {"Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"};

    for (size_t i = 0; i < G_N_ELEMENTS(NAMES); i++)
        if (g_ascii_strncasecmp(NAMES[i], code, 2) == 0 && strlen(code) == 2) return NAMES[i];
    return NULL;
}

/* "on Mon, Wed, Fri" of a rule that names days of the week and no more; any other rule as it is (g_free). */
static char *days_words(const char *rule)
{
    static const char WEEKLY[] = "FREQ=WEEKLY;BYDAY=";

    if (!g_str_has_prefix(rule, WEEKLY)) return g_strdup(rule);
    g_auto(GStrv) codes = g_strsplit(rule + strlen(WEEKLY), ",", -1);
    g_autoptr(GString) words = g_string_new("on ");

    for (int i = 0; codes[i] != NULL; i++) {
        const char *name = weekday_name(codes[i]);
        if (name == NULL) return g_strdup(rule);
        g_string_append_printf(words, "%s%s", i > 0 ? ", " : "", name);
    }
    return g_strdup(codes[0] != NULL ? words->str : rule);
}

void show_plan(const json_t *answer)
{
    const json_t *at = json_object_get(answer, "at");
    const json_t *goal = json_object_get(answer, "goal_deg");
    g_autofree char *next =
        show_instant_in(show_text(answer, "next"), show_text(answer, "zone"), true);
    g_autofree char *days =
        show_has(answer, "rule") ? days_words(show_text(answer, "rule")) : g_strdup("every day");
    size_t i;
    json_t *item;

    printf("%s, stage %s (%s), readiness: %s\n", show_text(answer, "programme"),
           show_text(answer, "stage"), show_text(answer, "title"), show_text(answer, "readiness"));
    fputs("  at", stdout);
    json_array_foreach((json_t *)at, i, item) printf(" %s", json_string_value(item));
    printf(", %s, from %s, side %s, next %s\n", days, show_text(answer, "start"),
           show_text(answer, "side"), next);
    printf("  clinician %s, review %s\n", show_text(answer, "clinician"),
           show_text(answer, "review"));
    if (show_has(goal, "left"))
        printf("  goal %g left, %g right%s\n", number(goal, "left"), number(goal, "right"),
               json_is_true(json_object_get(goal, "set_for_client")) ? " (set for this client)"
                                                                     : "");
    json_array_foreach(json_object_get(answer, "movements"), i, item) print_movement(item);
    print_week(json_object_get(answer, "week"), "a week as planned");
    print_done(json_object_get(answer, "week_done"));
    if (json_is_true(json_object_get(answer, "screen_due"))) puts("  a fresh screen is due");
    print_start(json_object_get(answer, "start_reasons"));
}
