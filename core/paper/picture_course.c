/* SPDX-License-Identifier: Apache-2.0 */
/* The course of a client: sessions gathered by week, points by session or by week. */
#include "core/paper/words.h"
#include "core/talk/wording.h"

enum { DAYS_MAX = 1000, POINTS_BY_SESSION_DAYS = 70, TICKS_WANTED = 6 };

static void add_point(CourseDrawing *course, CoursePoint point)
{
    if (point.intensity >= 0 || point.pain >= 0) g_array_append_val(course->points, point);
}

/* The seven days that begin there: their counts and, of a long course, their point. */
static void add_week(CourseDrawing *course, const CourseAsk *ask, int first, bool by_week, int *at)
{
    CourseWeek week = {.day = first};
    CoursePoint point = {.day = first + 3, .intensity = -1, .pain = -1};
    double sum = 0;
    int told = 0;

    for (; *at < ask->n_sessions && ask->sessions[*at].day - ask->from < first + 7; (*at)++) {
        const CourseSession *session = &ask->sessions[*at];
        if (session->day < ask->from || session->day > ask->to) continue;
        session_count(&week.counts, session->state);
        point.pain = MAX(point.pain, session->pain);
        told += session->intensity >= 0;
        sum += MAX(0, session->intensity);
        if (!by_week)
            add_point(course, (CoursePoint){.day = session->day - ask->from + 0.5,
                                            .intensity = session->intensity,
                                            .pain = session->pain});
    }
    if (told > 0) point.intensity = sum / told;
    if (by_week) add_point(course, point);
    g_array_append_val(course->weeks, week);
}

static void add_ticks(CourseDrawing *course, const Pack *pack, const CourseAsk *ask)
{
    int step = MAX(7, (course->days / TICKS_WANTED + 6) / 7 * 7);

    for (int day = 0; day < course->days; day += step) {
        double at = day;
        g_array_append_val(course->tick_days, at);
        g_ptr_array_add(course->ticks,
                        wording_day_short(pack, ask->from + day, course->days > 330));
    }
}

static CourseDrawing *course_new(const Pack *pack, const CourseAsk *ask)
{
    CourseDrawing *course = g_new0(CourseDrawing, 1);
    int at = 0;

    course->days = CLAMP(ask->to - ask->from + 1, 1, DAYS_MAX);
    course->points = g_array_new(FALSE, FALSE, sizeof(CoursePoint));
    course->readings = g_array_new(FALSE, FALSE, sizeof(CourseReading));
    course->weeks = g_array_new(FALSE, FALSE, sizeof(CourseWeek));
    course->tick_days = g_array_new(FALSE, FALSE, sizeof(double));
    course->ticks = g_ptr_array_new_with_free_func(g_free);
    for (int first = 0; first < course->days; first += 7)
        add_week(course, ask, first, course->days > POINTS_BY_SESSION_DAYS, &at);
    for (int i = 0; i < ask->n_readings; i++)
        if (ask->readings[i].day >= 0 && ask->readings[i].day < course->days)
            g_array_append_val(course->readings, ask->readings[i]);
    course->goal[0] = ask->goal[0];
    course->goal[1] = ask->goal[1];
    add_ticks(course, pack, ask);
    return course;
}

static void add_words(CourseDrawing *course, const Pack *pack)
{
    bool by_week = course->days > POINTS_BY_SESSION_DAYS;

    course->stretch = wording(pack, by_week ? "picture-stretch-week" : "picture-stretch", NULL);
    course->pain = wording(pack, by_week ? "picture-pain-week" : "picture-pain", NULL);
    course->range = wording(pack, "picture-range", NULL);
    course->left = wording(pack, "picture-left", NULL);
    course->right = wording(pack, "picture-right", NULL);
    course->goal_word = wording(pack, "picture-goal", NULL);
    course->sessions = wording(pack, "picture-sessions", NULL);
    paper_states(pack, course->states);
}

/* --- in words ------------------------------------------------------------------------------------ */

static void add_told(GString *out, const Pack *pack, const CourseAsk *ask)
{
    double sum = 0;
    PainTold pain = PAIN_UNTOLD;
    int told = 0;

    for (int i = 0; i < ask->n_sessions; i++) {
        told += ask->sessions[i].intensity >= 0;
        sum += MAX(0, ask->sessions[i].intensity);
        pain.most = MAX(pain.most, ask->sessions[i].pain);
        pain.bare = MAX(pain.bare, ask->sessions[i].bare);
        pain.some = pain.some || ask->sessions[i].pain_some;
    }
    if (told > 0) {
        g_autofree char *mean = paper_decimal(pack, sum / told);
        g_autofree char *words = wording(pack, "digest-stretch", "value", mean, NULL);
        g_string_append_printf(out, "; %s", words);
    }
    g_autofree char *most = pain.most >= 0 ? paper_decimal(pack, pain.most) : NULL;
    g_autofree char *words = digest_words_pain(pain, most, pack);
    if (words != NULL) g_string_append_printf(out, "; %s", words);
}

static void add_range(GString *out, const Pack *pack, const CourseDrawing *course, bool right)
{
    const CourseReading *first = NULL, *last = NULL;

    for (guint i = 0; i < course->readings->len; i++) {
        const CourseReading *reading = &g_array_index(course->readings, CourseReading, i);
        if (reading->right != right) continue;
        if (first == NULL) first = reading;
        last = reading;
    }
    if (first == NULL) return;
    g_autofree char *from = g_strdup_printf("%.0f°", first->degrees);
    g_autofree char *to = g_strdup_printf("%.0f°", last->degrees);
    const char *side = right ? course->right : course->left;
    g_autofree char *words = first == last ? g_strdup_printf("%s: %s", side, from)
                                           : wording(pack, "picture-range-words", "side", side,
                                                     "from", from, "to", to, NULL);
    g_string_append_printf(out, "; %s", words);
    double goal = course->goal[right];
    if (goal > 0) g_string_append_printf(out, " (%s %.0f°)", course->goal_word, goal);
}

static char *alt_of(const Pack *pack, const CourseAsk *ask, const CourseDrawing *course)
{
    SessionCounts all = {0};

    for (int i = 0; i < ask->n_sessions; i++)
        session_count(&all, ask->sessions[i].state);
    g_autofree char *counts = digest_words_counts(all, pack);
    GString *out = g_string_new(counts);
    add_told(out, pack, ask);
    add_range(out, pack, course, false);
    add_range(out, pack, course, true);
    g_string_append_c(out, '.');
    return g_string_free(out, FALSE);
}

Picture *picture_of_course(const Pack *pack, const CourseAsk *ask)
{
    Picture *picture = g_new0(Picture, 1);
    g_autofree char *from = wording_day(pack, ask->from);
    g_autofree char *to = wording_day(pack, ask->to);

    picture->course = course_new(pack, ask);
    add_words(picture->course, pack);
    picture->title = wording(pack, "picture-course", "from", from, "to", to, NULL);
    picture->alt = alt_of(pack, ask, picture->course);
    return picture;
}
