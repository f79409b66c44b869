/* SPDX-License-Identifier: Apache-2.0 */
/* How to lie, to scale: one centimetre of the body is the same everywhere in the drawing. The figure
 * is drawn in centimetres, hip joint at 0, floor or bed at 0, the head to the left.
 *
 * The geometry speaks of a line from the hip joint to where the heel touches frame, cushions or ball.
 * At the hip the leg is drawn around that line, at the heel on its upper side. The joint of somebody
 * who lies is a hand above the floor; for cushions, whose height the geometry counts from the joint,
 * the line begins at the bed, so that the height written is the height of the cushions.
 *
 * Proportions of the body by stature H: thigh 0.245, shank 0.246, shoulder above hip 0.288, foot
 * 0.152, as drawn by Winter, Biomechanics and Motor Control, Fig. 4.1 (after Drillis and Contini
 * 1966). Thicknesses are by eye. */
#include <math.h>

#include "adapters/chart/ink.h"

#define BED_CM 46.0 /* top of the mattress above the floor */
#define SEAT_CM 45.0
#define STOOL_CM 22.0
#define FLOOR_CM 9.0  /* drawn below the surface, for the floor itself */
#define LABEL_CM 24.0 /* and for what is written below it */
#define MARGIN_CM 6.0
#define JOINT_CM 8.0  /* the hip joint above what carries the body, as drawn */
#define THIGH_CM 15.0 /* thicknesses */
#define ANKLE_CM 7.0

typedef struct {
    double x;
    double y;
} Point;

typedef struct {
    cairo_t *cr;
    const SetupDrawing *setup;
    double scale;
    double left; /* the drawing's left and top, in centimetres */
    double top;
    double h;    /* stature */
    Point hip;   /* where the line of the leg begins */
    Point joint; /* where the hip joint is drawn */
    Point heel;
    double text; /* size of the writing, in pixels */
} Scene;

/* --- where everything lies ------------------------------------------------------------------------ */

static bool seated(const SetupDrawing *setup)
{
    return setup->place == PLACE_CHAIR;
}

static double surface(const SetupDrawing *setup)
{
    return setup->place == PLACE_BED ? BED_CM : 0;
}

static double angle_of(const SetupDrawing *setup)
{
    if (!seated(setup)) return setup->lay.angle_deg * G_PI / 180;
    /* On the chair the heel rests on a low stool. */
    return -asin(CLAMP((SEAT_CM + JOINT_CM - STOOL_CM) / setup->lay.leg_cm, 0, 0.9));
}

static Point between(Point from, Point to, double share)
{
    return (Point){from.x + (to.x - from.x) * share, from.y + (to.y - from.y) * share};
}

/* Heel to toes, square to the leg. */
static Point toes_of(const Scene *scene, double share)
{
    double angle = angle_of(scene->setup);
    double length = 0.145 * scene->h * share;

    return (Point){scene->heel.x - sin(angle) * length, scene->heel.y + cos(angle) * length};
}

static Point beside(const Scene *scene, Point on, double thick)
{
    double angle = angle_of(scene->setup);

    return (Point){on.x - sin(angle) * thick, on.y + cos(angle) * thick};
}

static void place(Scene *scene)
{
    const SetupDrawing *setup = scene->setup;
    double angle = angle_of(setup);
    double leg = setup->lay.leg_cm;

    scene->h = setup->stature_cm;
    double lying = setup->lay.kind == GEOMETRY_HEEL ? 0 : MAX(setup->lay.hip_cm, JOINT_CM);
    scene->hip = (Point){0, seated(setup) ? SEAT_CM + JOINT_CM : lying};
    if (angle == 0) scene->hip.y = 0; /* the whole leg rests */
    scene->joint = (Point){0, MAX(scene->hip.y, JOINT_CM)};
    scene->heel = (Point){scene->hip.x + leg * cos(angle), scene->hip.y + leg * sin(angle)};
}

typedef struct {
    double left, right, bottom, top;
} Extent;

static Extent extent_of(const Scene *scene)
{
    const SetupDrawing *setup = scene->setup;
    double h = scene->h;
    Extent extent = {.left = -0.50 * h,
                     .right = MAX(scene->heel.x + 22, 0.44 * h),
                     .bottom = -surface(setup) - FLOOR_CM,
                     .top = MAX(MAX(scene->heel.y, toes_of(scene, 1).y), 0.30 * h)};

    if (seated(setup)) {
        extent.left = -0.24 * h;
        extent.bottom = -FLOOR_CM;
        extent.top = SEAT_CM + 0.52 * h;
        extent.right = scene->heel.x + 26;
    }
    if (setup->lay.kind == GEOMETRY_DOOR || setup->lay.kind == GEOMETRY_BALL) extent.top += 14;
    if (setup->lay.kind == GEOMETRY_BALL || setup->lay.kind == GEOMETRY_HEEL)
        extent.right += setup->lay.reach_cm / 2 + 30;
    if (setup->reach != NULL && setup->lay.kind == GEOMETRY_DOOR) extent.bottom -= LABEL_CM;
    extent.left -= MARGIN_CM;
    extent.right += MARGIN_CM;
    extent.top += MARGIN_CM;
    return extent;
}

static Scene scene_of(const SetupDrawing *setup, double width, Extent *extent)
{
    Scene scene = {.setup = setup};

    place(&scene);
    *extent = extent_of(&scene);
    scene.scale = width / (extent->right - extent->left);
    scene.left = extent->left;
    scene.top = extent->top;
    scene.text = CLAMP(width / 22, 13, 26);
    return scene;
}

double setup_height(const SetupDrawing *setup, double width)
{
    Extent extent;
    Scene scene = scene_of(setup, width, &extent);

    return (extent.top - extent.bottom) * scene.scale;
}

/* --- pens ------------------------------------------------------------------------------------------ */

static double px(const Scene *scene, double x)
{
    return (x - scene->left) * scene->scale;
}

static double py(const Scene *scene, double y)
{
    return (scene->top - y) * scene->scale;
}

static void move_to(const Scene *scene, Point p)
{
    cairo_move_to(scene->cr, px(scene, p.x), py(scene, p.y));
}

static void line_to(const Scene *scene, Point p)
{
    cairo_line_to(scene->cr, px(scene, p.x), py(scene, p.y));
}

static void pen(const Scene *scene, Ink ink, double cm)
{
    ink_set(scene->cr, ink);
    cairo_set_line_width(scene->cr, cm * scene->scale);
    cairo_set_line_cap(scene->cr, CAIRO_LINE_CAP_ROUND);
    cairo_set_line_join(scene->cr, CAIRO_LINE_JOIN_ROUND);
}

static void line(const Scene *scene, Point from, Point to)
{
    move_to(scene, from);
    line_to(scene, to);
    cairo_stroke(scene->cr);
}

static void box(const Scene *scene, Point low, Point high, Ink fill, Ink rim)
{
    cairo_rectangle(scene->cr, px(scene, low.x), py(scene, high.y), (high.x - low.x) * scene->scale,
                    (high.y - low.y) * scene->scale);
    ink_set(scene->cr, fill);
    cairo_fill_preserve(scene->cr);
    ink_set(scene->cr, rim);
    cairo_set_line_width(scene->cr, 1.2);
    cairo_stroke(scene->cr);
}

static void disc(const Scene *scene, Point at, double r, Ink fill, Ink rim)
{
    cairo_new_sub_path(scene->cr);
    cairo_arc(scene->cr, px(scene, at.x), py(scene, at.y), r * scene->scale, 0, 2 * G_PI);
    ink_set(scene->cr, fill);
    cairo_fill_preserve(scene->cr);
    ink_set(scene->cr, rim);
    cairo_set_line_width(scene->cr, 1.6);
    cairo_stroke(scene->cr);
}

/* --- what stands around ----------------------------------------------------------------------------- */

static void draw_ground(const Scene *scene, const Extent *extent)
{
    double y = -surface(scene->setup);

    pen(scene, INK_BLACK, 0.9);
    cairo_set_line_cap(scene->cr, CAIRO_LINE_CAP_BUTT);
    line(scene, (Point){extent->left, y - 0.5}, (Point){extent->right, y - 0.5});
    pen(scene, INK_PALE, 0.7);
    for (double x = extent->left; x < extent->right; x += 9)
        line(scene, (Point){x + 5, y - 1.8}, (Point){x, y - 6.5});
}

/* The mattress ends behind a resting heel's ankle, so that the foot is free. */
static void draw_bed(const Scene *scene, const Extent *extent)
{
    double end = scene->heel.y < 3 ? scene->heel.x - 7 : MAX(scene->heel.x + 30, 0.44 * scene->h);

    if (scene->setup->place != PLACE_BED) return;
    box(scene, (Point){extent->left + 3, -BED_CM}, (Point){extent->left + 9, -16}, INK_PALE,
        INK_GREY);
    box(scene, (Point){end - 8, -BED_CM}, (Point){end - 2, -16}, INK_PALE, INK_GREY);
    box(scene, (Point){extent->left + 1, -19}, (Point){end, 0}, INK_LINE, INK_GREY);
}

static void draw_chair(const Scene *scene)
{
    double seat = 0.245 * scene->h - 2;

    if (!seated(scene->setup)) return;
    box(scene, (Point){-14, 0}, (Point){-10, SEAT_CM - 4}, INK_PALE, INK_GREY);
    box(scene, (Point){seat - 9, 0}, (Point){seat - 5, SEAT_CM - 4}, INK_PALE, INK_GREY);
    box(scene, (Point){-14, SEAT_CM - 5}, (Point){seat - 4, SEAT_CM}, INK_PALE, INK_GREY);
    box(scene, (Point){-15, SEAT_CM}, (Point){-10, SEAT_CM + 0.30 * scene->h}, INK_PALE, INK_GREY);
    box(scene, (Point){scene->heel.x - 16, 0}, (Point){scene->heel.x + 8, scene->heel.y}, INK_LINE,
        INK_GREY);
}

static void draw_frame(const Scene *scene)
{
    double x = scene->heel.x;

    box(scene, (Point){x, 0}, (Point){x + 9, scene->top - MARGIN_CM / 2}, INK_LINE, INK_GREY);
    pen(scene, INK_GREY, 0.6);
    line(scene, (Point){x + 3, 0}, (Point){x + 3, scene->top - MARGIN_CM / 2});
}

static void draw_ball(const Scene *scene)
{
    double r = scene->setup->lay.reach_cm / 2;
    Point centre = {scene->heel.x, r};

    box(scene, (Point){centre.x + r, 0}, (Point){centre.x + r + 5, scene->top - MARGIN_CM / 2},
        INK_LINE, INK_GREY);
    disc(scene, centre, r, INK_LINE, INK_GREY);
    pen(scene, INK_WHITE, 1.5);
    cairo_arc(scene->cr, px(scene, centre.x), py(scene, centre.y), r * 0.75 * scene->scale, 3.4,
              4.3);
    cairo_stroke(scene->cr);
}

static void draw_cushions(const Scene *scene)
{
    double height = scene->setup->lay.reach_cm;
    int layers = MAX(1, (int)(height / 14 + 0.5));

    for (int i = 0; i < layers; i++)
        box(scene, (Point){scene->heel.x - 8, height * i / layers},
            (Point){scene->heel.x + 26, height * (i + 1) / layers}, INK_LINE, INK_GREY);
}

static void draw_carrier(const Scene *scene)
{
    switch (scene->setup->lay.kind) {
    case GEOMETRY_DOOR: draw_frame(scene); break;
    case GEOMETRY_BALL: draw_ball(scene); break;
    case GEOMETRY_HEEL: draw_cushions(scene); break;
    case GEOMETRY_NONE: break;
    }
}

/* --- the body --------------------------------------------------------------------------------------- */

/* The knee of a leg from hip to ankle, thigh a and shank b long, on the upper side. */
static Point knee_of(Point hip, Point ankle, double a, double b)
{
    double dx = ankle.x - hip.x, dy = ankle.y - hip.y;
    double d = CLAMP(hypot(dx, dy), fabs(a - b) + 0.1, a + b - 0.1);
    double along = (a * a - b * b + d * d) / (2 * d);
    double up = sqrt(MAX(0, a * a - along * along));

    return (Point){hip.x + (dx * along - dy * up) / d, hip.y + (dy * along + dx * up) / d};
}

static void draw_other_leg(const Scene *scene)
{
    double h = scene->h;
    bool sits = seated(scene->setup);
    Point hip = {2, sits ? SEAT_CM + 7 : 8};
    Point ankle = sits ? (Point){0.245 * h, 6} : (Point){0.31 * h, 6};
    Point knee = knee_of(hip, ankle, 0.245 * h, 0.235 * h);

    pen(scene, INK_PALE, 12);
    move_to(scene, hip);
    line_to(scene, knee);
    cairo_stroke(scene->cr);
    pen(scene, INK_PALE, 9);
    line(scene, knee, ankle);
    pen(scene, INK_PALE, 6);
    line(scene, (Point){ankle.x - 1, 3}, (Point){ankle.x + 0.11 * h, 3});
}

static void draw_trunk(const Scene *scene)
{
    double h = scene->h;
    double r = 0.062 * h;

    if (seated(scene->setup)) {
        pen(scene, INK_GREY, 18);
        line(scene, (Point){0, SEAT_CM + 9}, (Point){0, SEAT_CM + 0.27 * h});
        pen(scene, INK_GREY, 8);
        line(scene, (Point){0, SEAT_CM + 0.27 * h}, (Point){1, SEAT_CM + 0.27 * h + 12});
        disc(scene, (Point){1, SEAT_CM + 0.27 * h + 9 + r * 1.25}, r, INK_GREY, INK_GREY);
        return;
    }
    box(scene, (Point){-0.288 * h - 26, 0}, (Point){-0.288 * h - 6, 5}, INK_WHITE, INK_GREY);
    pen(scene, INK_GREY, 17);
    line(scene, (Point){-2, 8.5}, (Point){-0.27 * h, 8.5});
    pen(scene, INK_GREY, 8);
    line(scene, (Point){-0.27 * h, 10}, (Point){-0.288 * h - 8, 12});
    disc(scene, (Point){-0.288 * h - 6 - r, 5 + r}, r, INK_GREY, INK_GREY);
}

static void draw_leg(const Scene *scene)
{
    Point knee = between(scene->hip, scene->heel, 0.5);
    Point ankle = between(scene->hip, scene->heel, 0.93);
    Point toes = toes_of(scene, 1);

    disc(scene, scene->joint, THIGH_CM / 2, INK_BLUE, INK_BLUE);
    move_to(scene, beside(scene, scene->joint, -THIGH_CM / 2));
    line_to(scene, beside(scene, knee, scene->hip.y > 0 ? -2 : 0));
    line_to(scene, scene->heel);
    line_to(scene, toes);
    line_to(scene, between(toes, scene->hip, 0.045));
    line_to(scene, beside(scene, ankle, ANKLE_CM));
    line_to(scene, beside(scene, knee, 9));
    line_to(scene, beside(scene, scene->joint, THIGH_CM / 2));
    cairo_close_path(scene->cr);
    ink_set(scene->cr, INK_BLUE);
    cairo_fill_preserve(scene->cr);
    pen(scene, INK_BLUE, 1.5);
    cairo_stroke(scene->cr);
    disc(scene, scene->joint, 2.2, INK_WHITE, INK_BLACK);
}

/* Arms: at rest beside the body, or elbows down and hands at the strap. Gives the hand. */
static Point draw_arm(const Scene *scene)
{
    double h = scene->h;
    bool sits = seated(scene->setup);
    bool strap = scene->setup->strap;
    Point shoulder = sits ? (Point){2, SEAT_CM + 0.27 * h} : (Point){-0.26 * h, 9};
    Point elbow = sits ? (Point){4, SEAT_CM + 0.12 * h} : (Point){(strap ? -0.16 : -0.14) * h, 4};
    Point hand = sits    ? (Point){0.17 * h, SEAT_CM + 0.13 * h}
                 : strap ? (Point){-0.12 * h, 26}
                         : (Point){-0.03 * h, 4};

    pen(scene, INK_WHITE, 8.4);
    move_to(scene, shoulder);
    line_to(scene, elbow);
    line_to(scene, hand);
    cairo_stroke(scene->cr);
    pen(scene, INK_GREY, 6);
    move_to(scene, shoulder);
    line_to(scene, elbow);
    line_to(scene, hand);
    cairo_stroke(scene->cr);
    return hand;
}

/* From the hand round the ball of the foot. */
static void draw_strap(const Scene *scene, Point hand)
{
    Point ball = toes_of(scene, 0.72);
    double angle = angle_of(scene->setup);
    Point sole = {ball.x + cos(angle) * 2.2, ball.y + sin(angle) * 2.2};

    pen(scene, INK_RED, 1.8);
    move_to(scene, hand);
    line_to(scene, ball);
    line_to(scene, sole);
    line_to(scene, (Point){sole.x + sin(angle) * 4, sole.y - cos(angle) * 4});
    cairo_stroke(scene->cr);
    disc(scene, hand, 3.4, INK_GREY, INK_WHITE);
}

/* --- the numbers ------------------------------------------------------------------------------------ */

static void draw_angle(const Scene *scene)
{
    const SetupDrawing *setup = scene->setup;
    double angle = angle_of(setup);
    Point hip = scene->hip;
    double r = 0.62 * setup->lay.leg_cm;

    if (setup->angle == NULL) return;
    /* Short of the frame, where there is room. */
    if (setup->lay.kind == GEOMETRY_DOOR)
        r = MIN(r, MAX(scene->heel.x - 3, 0.36 * setup->lay.leg_cm));
    pen(scene, INK_BLACK, 0.8);
    cairo_arc_negative(scene->cr, px(scene, hip.x), py(scene, hip.y), r * scene->scale, 0, -angle);
    cairo_stroke(scene->cr);
    static const double DASHES[] = {5, 4};
    cairo_set_dash(scene->cr, DASHES, 2, 0);
    line(scene, hip, (Point){hip.x + r + 6, hip.y});
    cairo_set_dash(scene->cr, DASHES, 0, 0);
    ink_text(scene->cr, px(scene, hip.x + r * cos(angle * 0.42)),
             py(scene, hip.y + r * sin(angle * 0.42)), setup->angle,
             (TextStyle){.size = scene->text, .bold = true, .align = ALIGN_CENTRE, .halo = true});
}

static void draw_arrow_head(const Scene *scene, Point at, double dx, double dy)
{
    move_to(scene, at);
    line_to(scene, (Point){at.x - dx * 4 + dy * 2, at.y - dy * 4 + dx * 2});
    line_to(scene, (Point){at.x - dx * 4 - dy * 2, at.y - dy * 4 - dx * 2});
    cairo_close_path(scene->cr);
    cairo_fill(scene->cr);
}

static void draw_measure(const Scene *scene, Point from, Point to)
{
    double length = MAX(0.1, hypot(to.x - from.x, to.y - from.y));
    double dx = (to.x - from.x) / length, dy = (to.y - from.y) / length;

    pen(scene, INK_BLACK, 0.9);
    line(scene, from, to);
    draw_arrow_head(scene, to, dx, dy);
    draw_arrow_head(scene, from, -dx, -dy);
    /* The ends are marked across. */
    line(scene, (Point){from.x - dy * 4, from.y + dx * 4},
         (Point){from.x + dy * 4, from.y - dx * 4});
    line(scene, (Point){to.x - dy * 4, to.y + dx * 4}, (Point){to.x + dy * 4, to.y - dx * 4});
}

static void draw_reach(const Scene *scene)
{
    const SetupDrawing *setup = scene->setup;
    TextStyle style = {.size = scene->text, .bold = true, .align = ALIGN_CENTRE, .halo = true};

    if (setup->reach == NULL) return;
    if (setup->lay.kind == GEOMETRY_DOOR) {
        double y = -surface(setup) - FLOOR_CM - 4;
        if (setup->lay.reach_cm >= 1)
            draw_measure(scene, (Point){scene->hip.x, y}, (Point){scene->heel.x, y});
        ink_text(scene->cr, px(scene, scene->heel.x / 2), py(scene, y - 10), setup->reach, style);
        return;
    }
    bool ball = setup->lay.kind == GEOMETRY_BALL;
    double x = scene->heel.x + (ball ? setup->lay.reach_cm / 2 + 14 : 36);
    draw_measure(scene, (Point){x, 0}, (Point){x, setup->lay.reach_cm});
    style.align = ALIGN_LEFT;
    ink_text(scene->cr, px(scene, x + 5), py(scene, setup->lay.reach_cm / 2), setup->reach, style);
}

void setup_draw(cairo_t *cr, const SetupDrawing *setup, double width)
{
    Extent extent;
    Scene scene = scene_of(setup, width, &extent);

    scene.cr = cr;
    draw_ground(&scene, &extent);
    draw_bed(&scene, &extent);
    draw_chair(&scene);
    draw_other_leg(&scene);
    draw_carrier(&scene);
    draw_trunk(&scene);
    Point hand = draw_arm(&scene);
    draw_leg(&scene);
    if (setup->strap) draw_strap(&scene, hand);
    draw_angle(&scene);
    draw_reach(&scene);
}
