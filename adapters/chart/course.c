/* SPDX-License-Identifier: Apache-2.0 */
/* The course of a client, one panel above the other over the same days: stretch and pain, range where
 * it was measured, sessions week by week. */
#include <math.h>

#include "adapters/chart/ink.h"

#define SIZE 13.0
#define LEFT 38.0
#define RIGHT 14.0
#define HEAD 26.0
#define TOLD 130.0
#define RANGE 110.0
#define WEEKS 84.0
#define GAP 14.0
#define FOOT 24.0
#define RANGE_MOST 120.0
#define STROKE 26.0 /* in a key, and what stands behind it */
#define BESIDE 6.0
#define APART 13.0

/* Where a panel stands, and what its highest line means. */
typedef struct {
    double left;
    double width;
    double top;
    double height;
    double days;
    double most;
} Panel;

static double at_x(const Panel *panel, double day)
{
    return panel->left + day / panel->days * panel->width;
}

static double at_y(const Panel *panel, double value)
{
    return panel->top + panel->height * (1 - CLAMP(value, 0, panel->most) / panel->most);
}

double course_height(const CourseDrawing *course, double width)
{
    double key = ink_states_key_height(course->states, width - LEFT - RIGHT, SIZE);
    double range = course->readings->len > 0 ? HEAD + RANGE + GAP : 0;

    return HEAD + TOLD + GAP + range + HEAD + WEEKS + FOOT + key + GAP;
}

static void draw_grid(cairo_t *cr, const Panel *panel, double step)
{
    cairo_set_line_width(cr, 1);
    for (double value = 0; value <= panel->most; value += step) {
        g_autofree char *text = g_strdup_printf("%.0f", value);
        double y = at_y(panel, value);
        ink_set(cr, INK_LINE);
        cairo_move_to(cr, panel->left, y);
        cairo_line_to(cr, panel->left + panel->width, y);
        cairo_stroke(cr);
        ink_set(cr, INK_GREY);
        ink_text(cr, panel->left - 7, y, text, (TextStyle){.size = SIZE - 1, .align = ALIGN_RIGHT});
    }
}

/* --- marks --------------------------------------------------------------------------------------- */

typedef enum { MARK_DISC, MARK_TRIANGLE, MARK_SQUARE } Mark;

/* Adds a mark to the path: many are filled at once. */
static void add_mark(cairo_t *cr, Mark mark, double x, double y, double r)
{
    if (mark == MARK_DISC) {
        cairo_new_sub_path(cr);
        cairo_arc(cr, x, y, r, 0, 2 * G_PI);
    } else if (mark == MARK_TRIANGLE) {
        cairo_move_to(cr, x, y - r * 1.3);
        cairo_line_to(cr, x + r * 1.2, y + r);
        cairo_line_to(cr, x - r * 1.2, y + r);
        cairo_close_path(cr);
    } else {
        cairo_rectangle(cr, x - r, y - r, 2 * r, 2 * r);
    }
}

static void draw_marks(cairo_t *cr, Mark mark)
{
    if (mark == MARK_SQUARE) {
        cairo_set_line_width(cr, 2);
        cairo_stroke(cr);
    } else {
        cairo_fill(cr);
    }
}

static void set_dash(cairo_t *cr, bool dashed)
{
    static const double DASHES[] = {6, 4};

    cairo_set_dash(cr, DASHES, dashed ? 2 : 0, 0);
}

/* A mark with a stroke through it and its name; where the next one may stand. */
static double draw_key(cairo_t *cr, double x, double y, Ink ink, Mark mark, bool dashed,
                       const char *name)
{
    ink_set(cr, ink);
    cairo_set_line_width(cr, 2);
    set_dash(cr, dashed);
    cairo_move_to(cr, x, y);
    cairo_line_to(cr, x + STROKE, y);
    cairo_stroke(cr);
    set_dash(cr, false);
    add_mark(cr, mark, x + STROKE / 2, y, 4);
    draw_marks(cr, mark);
    ink_set(cr, INK_BLACK);
    x += STROKE + BESIDE;
    return x + ink_text(cr, x, y, name, (TextStyle){.size = SIZE}) + APART;
}

/* --- panels -------------------------------------------------------------------------------------- */

typedef double PointValue(const CoursePoint *point);

static double intensity_of(const CoursePoint *point)
{
    return point->intensity;
}

static double pain_of(const CoursePoint *point)
{
    return point->pain;
}

static void draw_points(cairo_t *cr, const Panel *panel, const CourseDrawing *course,
                        PointValue *value, Ink ink, Mark mark, bool dashed)
{
    double r = course->points->len > 60 ? 2.6 : 4;
    bool begun = false;

    ink_set(cr, ink);
    cairo_set_line_width(cr, 1.6);
    set_dash(cr, dashed);
    for (guint i = 0; i < course->points->len; i++) {
        const CoursePoint *point = &g_array_index(course->points, CoursePoint, i);
        if (value(point) < 0) continue;
        if (begun)
            cairo_line_to(cr, at_x(panel, point->day), at_y(panel, value(point)));
        else
            cairo_move_to(cr, at_x(panel, point->day), at_y(panel, value(point)));
        begun = true;
    }
    cairo_stroke(cr);
    set_dash(cr, false);
    for (guint i = 0; i < course->points->len; i++) {
        const CoursePoint *point = &g_array_index(course->points, CoursePoint, i);
        if (value(point) >= 0)
            add_mark(cr, mark, at_x(panel, point->day), at_y(panel, value(point)), r);
    }
    draw_marks(cr, mark);
}

static double draw_told(cairo_t *cr, const CourseDrawing *course, Panel panel)
{
    double x =
        draw_key(cr, panel.left, panel.top + HEAD / 2, INK_BLUE, MARK_DISC, false, course->stretch);

    draw_key(cr, x, panel.top + HEAD / 2, INK_RED, MARK_TRIANGLE, true, course->pain);
    panel.top += HEAD;
    panel.height = TOLD;
    panel.most = 10;
    draw_grid(cr, &panel, 5);
    draw_points(cr, &panel, course, intensity_of, INK_BLUE, MARK_DISC, false);
    draw_points(cr, &panel, course, pain_of, INK_RED, MARK_TRIANGLE, true);
    return panel.top + TOLD + GAP;
}

static void draw_side(cairo_t *cr, const Panel *panel, const CourseDrawing *course, bool right)
{
    Ink ink = right ? INK_BLACK : INK_BLUE;
    bool begun = false;

    ink_set(cr, ink);
    cairo_set_line_width(cr, 1.6);
    set_dash(cr, right);
    for (guint i = 0; i < course->readings->len; i++) {
        const CourseReading *reading = &g_array_index(course->readings, CourseReading, i);
        if (reading->right != right) continue;
        if (begun)
            cairo_line_to(cr, at_x(panel, reading->day), at_y(panel, reading->degrees));
        else
            cairo_move_to(cr, at_x(panel, reading->day), at_y(panel, reading->degrees));
        begun = true;
    }
    cairo_stroke(cr);
    set_dash(cr, false);
    for (guint i = 0; i < course->readings->len; i++) {
        const CourseReading *reading = &g_array_index(course->readings, CourseReading, i);
        if (reading->right == right)
            add_mark(cr, right ? MARK_SQUARE : MARK_DISC, at_x(panel, reading->day),
                     at_y(panel, reading->degrees), 4);
    }
    draw_marks(cr, right ? MARK_SQUARE : MARK_DISC);
}

static void draw_goals(cairo_t *cr, const Panel *panel, const CourseDrawing *course)
{
    for (int side = 0; side < 2; side++) {
        double goal = course->goal[side];
        if (goal <= 0 || (side == 1 && goal == course->goal[0])) continue;
        g_autofree char *text = g_strdup_printf("%s %.0f°", course->goal_word, goal);
        ink_set(cr, INK_GREY);
        cairo_set_line_width(cr, 1.5);
        set_dash(cr, true);
        cairo_move_to(cr, panel->left, at_y(panel, goal));
        cairo_line_to(cr, panel->left + panel->width, at_y(panel, goal));
        cairo_stroke(cr);
        set_dash(cr, false);
        /* Left over its line at the left, right under its line at the right. */
        if (side == 0)
            ink_text(cr, panel->left + 6, at_y(panel, goal) - SIZE * 0.8, text,
                     (TextStyle){.size = SIZE - 1});
        else
            ink_text(cr, panel->left + panel->width - 6, at_y(panel, goal) + SIZE * 0.8, text,
                     (TextStyle){.size = SIZE - 1, .align = ALIGN_RIGHT});
    }
}

static double draw_range(cairo_t *cr, const CourseDrawing *course, Panel panel)
{
    double y = panel.top + HEAD / 2;

    if (course->readings->len == 0) return panel.top;
    ink_set(cr, INK_BLACK);
    /* By characters, as the states' key: what the two sides need is kept free for them. */
    glong sides = g_utf8_strlen(course->left, -1) + g_utf8_strlen(course->right, -1);
    double keys = 2 * (STROKE + BESIDE + APART) + (double)sides * SIZE * 0.6;
    double x = panel.left + ink_text(cr, panel.left, y, course->range,
                                     (TextStyle){.size = SIZE, .width = panel.width - keys});
    x = draw_key(cr, x + APART, y, INK_BLUE, MARK_DISC, false, course->left);
    draw_key(cr, x, y, INK_BLACK, MARK_SQUARE, true, course->right);
    panel.top += HEAD;
    panel.height = RANGE;
    panel.most = RANGE_MOST;
    draw_grid(cr, &panel, 30);
    draw_goals(cr, &panel, course);
    draw_side(cr, &panel, course, false);
    draw_side(cr, &panel, course, true);
    return panel.top + RANGE + GAP;
}

static double draw_weeks(cairo_t *cr, const CourseDrawing *course, Panel panel)
{
    double most = 7;

    for (guint i = 0; i < course->weeks->len; i++)
        most =
            MAX(most, adherence_of(g_array_index(course->weeks, CourseWeek, i).counts).prescribed);
    ink_set(cr, INK_BLACK);
    ink_text(cr, panel.left, panel.top + HEAD / 2, course->sessions, (TextStyle){.size = SIZE});
    panel.top += HEAD;
    panel.height = WEEKS;
    panel.most = most;
    draw_grid(cr, &panel, most);
    double wide = MIN(7 / panel.days * panel.width, 110);
    for (guint i = 0; i < course->weeks->len; i++) {
        const CourseWeek *week = &g_array_index(course->weeks, CourseWeek, i);
        SessionCounts c = week->counts;
        const int parts[6] = {c.done, c.partly, c.not, c.silent, c.unasked, c.excused};
        double y = panel.top + WEEKS;
        double gap = wide > 10 ? 4 : 1;
        double x = at_x(&panel, week->day) + gap / 2;
        for (int part = 0; part < 6; part++) {
            double height = parts[part] * WEEKS / most;
            y -= height;
            ink_state(cr, part, x, y, MIN(wide - gap, panel.left + panel.width - x), height);
        }
    }
    return panel.top + WEEKS;
}

static void draw_days(cairo_t *cr, const CourseDrawing *course, const Panel *panel, double y)
{
    for (guint i = 0; i < course->ticks->len; i++) {
        double x = at_x(panel, g_array_index(course->tick_days, double, i));
        ink_set(cr, INK_GREY);
        cairo_set_line_width(cr, 1);
        cairo_move_to(cr, x, y);
        cairo_line_to(cr, x, y + 5);
        cairo_stroke(cr);
        ink_text(cr, x, y + 14, course->ticks->pdata[i], (TextStyle){.size = SIZE - 1});
    }
}

void course_draw(cairo_t *cr, const CourseDrawing *course, double width)
{
    Panel panel = {.left = LEFT, .width = width - LEFT - RIGHT, .days = course->days};

    panel.top = draw_told(cr, course, panel);
    panel.top = draw_range(cr, course, panel);
    double y = draw_weeks(cr, course, panel);
    draw_days(cr, course, &panel, y);
    ink_states_key(cr, course->states, LEFT, y + FOOT + 4, panel.width, SIZE);
}
