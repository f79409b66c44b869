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

#include "adapters/chart/setup_scene.h"

double setup_height(const SetupDrawing *setup, double width)
{
    Extent extent;
    Scene scene = scene_of(setup, width, &extent);

    return (extent.top - extent.bottom) * scene.scale;
}

/* --- what stands around ----------------------------------------------------------------------------- */

static void draw_ground(const Scene *scene, const Extent *extent)
{
    double y = -scene_surface(scene->setup);

    scene_pen(scene, INK_BLACK, 0.9);
    cairo_set_line_cap(scene->cr, CAIRO_LINE_CAP_BUTT);
    scene_line(scene, (Point){extent->left, y - 0.5}, (Point){extent->right, y - 0.5});
    scene_pen(scene, INK_PALE, 0.7);
    for (double x = extent->left; x < extent->right; x += 9)
        scene_line(scene, (Point){x + 5, y - 1.8}, (Point){x, y - 6.5});
}

/* The mattress ends behind a resting heel's ankle, so that the foot is free. */
static void draw_bed(const Scene *scene, const Extent *extent)
{
    double end = scene->heel.y < 3 ? scene->heel.x - 7 : MAX(scene->heel.x + 30, 0.44 * scene->h);

    if (scene->setup->place != PLACE_BED) return;
    scene_box(scene, (Point){extent->left + 3, -BED_CM}, (Point){extent->left + 9, -16}, INK_PALE,
              INK_GREY);
    scene_box(scene, (Point){end - 8, -BED_CM}, (Point){end - 2, -16}, INK_PALE, INK_GREY);
    scene_box(scene, (Point){extent->left + 1, -19}, (Point){end, 0}, INK_LINE, INK_GREY);
}

static void draw_chair(const Scene *scene)
{
    double seat = 0.245 * scene->h - 2;

    if (!scene_seated(scene->setup)) return;
    scene_box(scene, (Point){-14, 0}, (Point){-10, SEAT_CM - 4}, INK_PALE, INK_GREY);
    scene_box(scene, (Point){seat - 9, 0}, (Point){seat - 5, SEAT_CM - 4}, INK_PALE, INK_GREY);
    scene_box(scene, (Point){-14, SEAT_CM - 5}, (Point){seat - 4, SEAT_CM}, INK_PALE, INK_GREY);
    scene_box(scene, (Point){-15, SEAT_CM}, (Point){-10, SEAT_CM + 0.30 * scene->h}, INK_PALE,
              INK_GREY);
    scene_box(scene, (Point){scene->heel.x - 16, 0}, (Point){scene->heel.x + 8, scene->heel.y},
              INK_LINE, INK_GREY);
}

static void draw_frame(const Scene *scene)
{
    double x = scene->heel.x;

    scene_box(scene, (Point){x, 0}, (Point){x + 9, scene->top - MARGIN_CM / 2}, INK_LINE, INK_GREY);
    scene_pen(scene, INK_GREY, 0.6);
    scene_line(scene, (Point){x + 3, 0}, (Point){x + 3, scene->top - MARGIN_CM / 2});
}

static void draw_ball(const Scene *scene)
{
    double r = scene->setup->lay.reach_cm / 2;
    Point centre = {scene->heel.x, r};

    scene_box(scene, (Point){centre.x + r, 0},
              (Point){centre.x + r + 5, scene->top - MARGIN_CM / 2}, INK_LINE, INK_GREY);
    scene_disc(scene, centre, r, INK_LINE, INK_GREY);
    scene_pen(scene, INK_WHITE, 1.5);
    cairo_arc(scene->cr, scene_px(scene, centre.x), scene_py(scene, centre.y),
              r * 0.75 * scene->scale, 3.4, 4.3);
    cairo_stroke(scene->cr);
}

static void draw_cushions(const Scene *scene)
{
    double height = scene->setup->lay.reach_cm;
    int layers = MAX(1, (int)(height / 14 + 0.5));

    for (int i = 0; i < layers; i++)
        scene_box(scene, (Point){scene->heel.x - 8, height * i / layers},
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

/* --- the numbers ------------------------------------------------------------------------------------ */

static void draw_angle(const Scene *scene)
{
    const SetupDrawing *setup = scene->setup;
    double angle = scene_angle(setup);
    Point hip = scene->hip;
    double r = 0.62 * setup->lay.leg_cm;

    if (setup->angle == NULL) return;
    /* Short of the frame, where there is room. */
    if (setup->lay.kind == GEOMETRY_DOOR)
        r = MIN(r, MAX(scene->heel.x - 3, 0.36 * setup->lay.leg_cm));
    scene_pen(scene, INK_BLACK, 0.8);
    cairo_arc_negative(scene->cr, scene_px(scene, hip.x), scene_py(scene, hip.y), r * scene->scale,
                       0, -angle);
    cairo_stroke(scene->cr);
    static const double DASHES[] = {5, 4};
    cairo_set_dash(scene->cr, DASHES, 2, 0);
    scene_line(scene, hip, (Point){hip.x + r + 6, hip.y});
    cairo_set_dash(scene->cr, DASHES, 0, 0);
    ink_text(scene->cr, scene_px(scene, hip.x + r * cos(angle * 0.42)),
             scene_py(scene, hip.y + r * sin(angle * 0.42)), setup->angle,
             (TextStyle){.size = scene->text, .bold = true, .align = ALIGN_CENTRE, .halo = true});
}

static void draw_arrow_head(const Scene *scene, Point at, double dx, double dy)
{
    scene_move(scene, at);
    scene_line_to(scene, (Point){at.x - dx * 4 + dy * 2, at.y - dy * 4 + dx * 2});
    scene_line_to(scene, (Point){at.x - dx * 4 - dy * 2, at.y - dy * 4 - dx * 2});
    cairo_close_path(scene->cr);
    cairo_fill(scene->cr);
}

static void draw_measure(const Scene *scene, Point from, Point to)
{
    double length = MAX(0.1, hypot(to.x - from.x, to.y - from.y));
    double dx = (to.x - from.x) / length, dy = (to.y - from.y) / length;

    scene_pen(scene, INK_BLACK, 0.9);
    scene_line(scene, from, to);
    draw_arrow_head(scene, to, dx, dy);
    draw_arrow_head(scene, from, -dx, -dy);
    /* The ends are marked across. */
    scene_line(scene, (Point){from.x - dy * 4, from.y + dx * 4},
               (Point){from.x + dy * 4, from.y - dx * 4});
    scene_line(scene, (Point){to.x - dy * 4, to.y + dx * 4}, (Point){to.x + dy * 4, to.y - dx * 4});
}

static void draw_reach(const Scene *scene)
{
    const SetupDrawing *setup = scene->setup;
    TextStyle style = {.size = scene->text, .bold = true, .align = ALIGN_CENTRE, .halo = true};

    if (setup->reach == NULL) return;
    if (setup->lay.kind == GEOMETRY_DOOR) {
        double y = -scene_surface(setup) - FLOOR_CM - 4;
        if (setup->lay.reach_cm >= 1)
            draw_measure(scene, (Point){scene->hip.x, y}, (Point){scene->heel.x, y});
        ink_text(scene->cr, scene_px(scene, scene->heel.x / 2), scene_py(scene, y - 10),
                 setup->reach, style);
        return;
    }
    bool ball = setup->lay.kind == GEOMETRY_BALL;
    double x = scene->heel.x + (ball ? setup->lay.reach_cm / 2 + 14 : 36);
    draw_measure(scene, (Point){x, 0}, (Point){x, setup->lay.reach_cm});
    style.align = ALIGN_LEFT;
    ink_text(scene->cr, scene_px(scene, x + 5), scene_py(scene, setup->lay.reach_cm / 2),
             setup->reach, style);
}

void setup_draw(cairo_t *cr, const SetupDrawing *setup, double width)
{
    Extent extent;
    Scene scene = scene_of(setup, width, &extent);

    scene.cr = cr;
    draw_ground(&scene, &extent);
    draw_bed(&scene, &extent);
    draw_chair(&scene);
    body_other_leg(&scene);
    draw_carrier(&scene);
    body_trunk(&scene);
    Point hand = body_arm(&scene);
    body_leg(&scene);
    if (setup->strap) body_strap(&scene, hand);
    draw_angle(&scene);
    draw_reach(&scene);
}
