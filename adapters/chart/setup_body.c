/* SPDX-License-Identifier: Apache-2.0 */
/* The body of somebody who lies or sits, in a set-up drawing. */
#include <math.h>

#include "adapters/chart/setup_scene.h"

/* The knee of a leg from hip to ankle, thigh a and shank b long, on the upper side. */
static Point knee_of(Point hip, Point ankle, double a, double b)
{
    double dx = ankle.x - hip.x, dy = ankle.y - hip.y;
    double d = CLAMP(hypot(dx, dy), fabs(a - b) + 0.1, a + b - 0.1);
    double along = (a * a - b * b + d * d) / (2 * d);
    double up = sqrt(MAX(0, a * a - along * along));

    return (Point){hip.x + (dx * along - dy * up) / d, hip.y + (dy * along + dx * up) / d};
}

void body_other_leg(const Scene *scene)
{
    double h = scene->h;
    bool sits = scene_seated(scene->setup);
    Point hip = {2, sits ? SEAT_CM + 7 : 8};
    Point ankle = sits ? (Point){0.245 * h, 6} : (Point){0.31 * h, 6};
    Point knee = knee_of(hip, ankle, 0.245 * h, 0.235 * h);

    scene_pen(scene, INK_PALE, 12);
    scene_move(scene, hip);
    scene_line_to(scene, knee);
    cairo_stroke(scene->cr);
    scene_pen(scene, INK_PALE, 9);
    scene_line(scene, knee, ankle);
    scene_pen(scene, INK_PALE, 6);
    scene_line(scene, (Point){ankle.x - 1, 3}, (Point){ankle.x + 0.11 * h, 3});
}

void body_trunk(const Scene *scene)
{
    double h = scene->h;
    double r = 0.062 * h;

    if (scene_seated(scene->setup)) {
        scene_pen(scene, INK_GREY, 18);
        scene_line(scene, (Point){0, SEAT_CM + 9}, (Point){0, SEAT_CM + 0.27 * h});
        scene_pen(scene, INK_GREY, 8);
        scene_line(scene, (Point){0, SEAT_CM + 0.27 * h}, (Point){1, SEAT_CM + 0.27 * h + 12});
        scene_disc(scene, (Point){1, SEAT_CM + 0.27 * h + 9 + r * 1.25}, r, INK_GREY, INK_GREY);
        return;
    }
    scene_box(scene, (Point){-0.288 * h - 26, 0}, (Point){-0.288 * h - 6, 5}, INK_WHITE, INK_GREY);
    scene_pen(scene, INK_GREY, 17);
    scene_line(scene, (Point){-2, 8.5}, (Point){-0.27 * h, 8.5});
    scene_pen(scene, INK_GREY, 8);
    scene_line(scene, (Point){-0.27 * h, 10}, (Point){-0.288 * h - 8, 12});
    scene_disc(scene, (Point){-0.288 * h - 6 - r, 5 + r}, r, INK_GREY, INK_GREY);
}

void body_leg(const Scene *scene)
{
    Point knee = scene_between(scene->hip, scene->heel, 0.5);
    Point ankle = scene_between(scene->hip, scene->heel, 0.93);
    Point toes = scene_toes(scene, 1);

    scene_disc(scene, scene->joint, THIGH_CM / 2, INK_BLUE, INK_BLUE);
    scene_move(scene, scene_beside(scene, scene->joint, -THIGH_CM / 2));
    scene_line_to(scene, scene_beside(scene, knee, scene->hip.y > 0 ? -2 : 0));
    scene_line_to(scene, scene->heel);
    scene_line_to(scene, toes);
    scene_line_to(scene, scene_between(toes, scene->hip, 0.045));
    scene_line_to(scene, scene_beside(scene, ankle, ANKLE_CM));
    scene_line_to(scene, scene_beside(scene, knee, 9));
    scene_line_to(scene, scene_beside(scene, scene->joint, THIGH_CM / 2));
    cairo_close_path(scene->cr);
    ink_set(scene->cr, INK_BLUE);
    cairo_fill_preserve(scene->cr);
    scene_pen(scene, INK_BLUE, 1.5);
    cairo_stroke(scene->cr);
    scene_disc(scene, scene->joint, 2.2, INK_WHITE, INK_BLACK);
}

/* Arms: at rest beside the body, or elbows down and hands at the strap. Gives the hand. */
Point body_arm(const Scene *scene)
{
    double h = scene->h;
    bool sits = scene_seated(scene->setup);
    bool strap = scene->setup->strap;
    Point shoulder = sits ? (Point){2, SEAT_CM + 0.27 * h} : (Point){-0.26 * h, 9};
    Point elbow = sits ? (Point){4, SEAT_CM + 0.12 * h} : (Point){(strap ? -0.16 : -0.14) * h, 4};
    Point hand = sits    ? (Point){0.17 * h, SEAT_CM + 0.13 * h}
                 : strap ? (Point){-0.12 * h, 26}
                         : (Point){-0.03 * h, 4};

    scene_pen(scene, INK_WHITE, 8.4);
    scene_move(scene, shoulder);
    scene_line_to(scene, elbow);
    scene_line_to(scene, hand);
    cairo_stroke(scene->cr);
    scene_pen(scene, INK_GREY, 6);
    scene_move(scene, shoulder);
    scene_line_to(scene, elbow);
    scene_line_to(scene, hand);
    cairo_stroke(scene->cr);
    return hand;
}

/* From the hand round the ball of the foot. */
void body_strap(const Scene *scene, Point hand)
{
    Point ball = scene_toes(scene, 0.72);
    double angle = scene_angle(scene->setup);
    Point sole = {ball.x + cos(angle) * 2.2, ball.y + sin(angle) * 2.2};

    scene_pen(scene, INK_RED, 1.8);
    scene_move(scene, hand);
    scene_line_to(scene, ball);
    scene_line_to(scene, sole);
    scene_line_to(scene, (Point){sole.x + sin(angle) * 4, sole.y - cos(angle) * 4});
    cairo_stroke(scene->cr);
    scene_disc(scene, hand, 3.4, INK_GREY, INK_WHITE);
}
