/* SPDX-License-Identifier: Apache-2.0 */
/* Where everything lies in a set-up drawing, and pens that draw in centimetres. Only the set-up drawing uses it. */
#ifndef OSIER_ADAPTERS_CHART_SETUP_SCENE_H
#define OSIER_ADAPTERS_CHART_SETUP_SCENE_H

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

typedef struct {
    double left, right, bottom, top;
} Extent;

/* The scene of that width in pixels, and its outermost centimetres. */
Scene scene_of(const SetupDrawing *setup, double width, Extent *extent);

/* On a chair; the surface that carries the body, above the floor; the angle of the leg, in radians. */
bool scene_seated(const SetupDrawing *setup);
double scene_surface(const SetupDrawing *setup);
double scene_angle(const SetupDrawing *setup);

/* A share of the way; the toes, or a share of the foot; a point so far off the upper side of the leg. */
Point scene_between(Point from, Point to, double share);
Point scene_toes(const Scene *scene, double share);
Point scene_beside(const Scene *scene, Point on, double thick);

/* Centimetres to pixels. */
double scene_px(const Scene *scene, double x);
double scene_py(const Scene *scene, double y);

/* A path of the scene, and what is drawn at once: a stroke so many centimetres wide, a filled box or disc with a rim. */
void scene_move(const Scene *scene, Point p);
void scene_line_to(const Scene *scene, Point p);
void scene_pen(const Scene *scene, Ink ink, double cm);
void scene_line(const Scene *scene, Point from, Point to);
void scene_box(const Scene *scene, Point low, Point high, Ink fill, Ink rim);
void scene_disc(const Scene *scene, Point at, double r, Ink fill, Ink rim);

/* setup_body.c: the parts of the body; the arm gives its hand, which the strap leads to. */
void body_other_leg(const Scene *scene);
void body_trunk(const Scene *scene);
void body_leg(const Scene *scene);
Point body_arm(const Scene *scene);
void body_strap(const Scene *scene, Point hand);

#endif
