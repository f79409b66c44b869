/* SPDX-License-Identifier: Apache-2.0 */
#include "adapters/chart/setup_scene.h"

#include <math.h>

bool scene_seated(const SetupDrawing *setup)
{
    return setup->place == PLACE_CHAIR;
}

double scene_surface(const SetupDrawing *setup)
{
    return setup->place == PLACE_BED ? BED_CM : 0;
}

double scene_angle(const SetupDrawing *setup)
{
    if (!scene_seated(setup)) return setup->lay.angle_deg * G_PI / 180;
    /* On the chair the heel rests on a low stool. */
    return -asin(CLAMP((SEAT_CM + JOINT_CM - STOOL_CM) / setup->lay.leg_cm, 0, 0.9));
}

Point scene_between(Point from, Point to, double share)
{
    return (Point){from.x + (to.x - from.x) * share, from.y + (to.y - from.y) * share};
}

/* Heel to toes, square to the leg. */
Point scene_toes(const Scene *scene, double share)
{
    double angle = scene_angle(scene->setup);
    double length = 0.145 * scene->h * share;

    return (Point){scene->heel.x - sin(angle) * length, scene->heel.y + cos(angle) * length};
}

Point scene_beside(const Scene *scene, Point on, double thick)
{
    double angle = scene_angle(scene->setup);

    return (Point){on.x - sin(angle) * thick, on.y + cos(angle) * thick};
}

static void place(Scene *scene)
{
    const SetupDrawing *setup = scene->setup;
    double angle = scene_angle(setup);
    double leg = setup->lay.leg_cm;

    scene->h = setup->stature_cm;
    double lying = setup->lay.kind == GEOMETRY_HEEL ? 0 : MAX(setup->lay.hip_cm, JOINT_CM);
    scene->hip = (Point){0, scene_seated(setup) ? SEAT_CM + JOINT_CM : lying};
    if (angle == 0) scene->hip.y = 0; /* the whole leg rests */
    scene->joint = (Point){0, MAX(scene->hip.y, JOINT_CM)};
    scene->heel = (Point){scene->hip.x + leg * cos(angle), scene->hip.y + leg * sin(angle)};
}

static Extent extent_of(const Scene *scene)
{
    const SetupDrawing *setup = scene->setup;
    double h = scene->h;
    Extent extent = {.left = -0.50 * h,
                     .right = MAX(scene->heel.x + 22, 0.44 * h),
                     .bottom = -scene_surface(setup) - FLOOR_CM,
                     .top = MAX(MAX(scene->heel.y, scene_toes(scene, 1).y), 0.30 * h)};

    if (scene_seated(setup)) {
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

Scene scene_of(const SetupDrawing *setup, double width, Extent *extent)
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

/* --- pens ------------------------------------------------------------------------------------------ */

double scene_px(const Scene *scene, double x)
{
    return (x - scene->left) * scene->scale;
}

double scene_py(const Scene *scene, double y)
{
    return (scene->top - y) * scene->scale;
}

void scene_move(const Scene *scene, Point p)
{
    cairo_move_to(scene->cr, scene_px(scene, p.x), scene_py(scene, p.y));
}

void scene_line_to(const Scene *scene, Point p)
{
    cairo_line_to(scene->cr, scene_px(scene, p.x), scene_py(scene, p.y));
}

void scene_pen(const Scene *scene, Ink ink, double cm)
{
    ink_set(scene->cr, ink);
    cairo_set_line_width(scene->cr, cm * scene->scale);
    cairo_set_line_cap(scene->cr, CAIRO_LINE_CAP_ROUND);
    cairo_set_line_join(scene->cr, CAIRO_LINE_JOIN_ROUND);
}

void scene_line(const Scene *scene, Point from, Point to)
{
    scene_move(scene, from);
    scene_line_to(scene, to);
    cairo_stroke(scene->cr);
}

void scene_box(const Scene *scene, Point low, Point high, Ink fill, Ink rim)
{
    cairo_rectangle(scene->cr, scene_px(scene, low.x), scene_py(scene, high.y),
                    (high.x - low.x) * scene->scale, (high.y - low.y) * scene->scale);
    ink_set(scene->cr, fill);
    cairo_fill_preserve(scene->cr);
    ink_set(scene->cr, rim);
    cairo_set_line_width(scene->cr, 1.2);
    cairo_stroke(scene->cr);
}

void scene_disc(const Scene *scene, Point at, double r, Ink fill, Ink rim)
{
    cairo_new_sub_path(scene->cr);
    cairo_arc(scene->cr, scene_px(scene, at.x), scene_py(scene, at.y), r * scene->scale, 0,
              2 * G_PI);
    ink_set(scene->cr, fill);
    cairo_fill_preserve(scene->cr);
    ink_set(scene->cr, rim);
    cairo_set_line_width(scene->cr, 1.6);
    cairo_stroke(scene->cr);
}
