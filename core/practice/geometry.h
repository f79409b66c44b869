/* SPDX-License-Identifier: Apache-2.0 */
/* Where to lie and how high the leg then is: plain trigonometry of a straight leg, both ways. Lying
 * at a door frame with the hip joint at distance d and the leg (hip joint to heel) L long, the leg
 * stands at acos(d/L) above the floor; with the heel at height h it stands at asin(h/L); on a ball
 * the heel is a diameter above the floor and the hip joint is a little above it too. Angles in
 * degrees, lengths in centimetres. */
#ifndef OSIER_CORE_PRACTICE_GEOMETRY_H
#define OSIER_CORE_PRACTICE_GEOMETRY_H

#include "core/practice/programme.h"

#define LEG_CM_MIN 40.0
#define LEG_CM_MAX 130.0
#define STATURE_CM_MIN 100.0
#define STATURE_CM_MAX 230.0
#define BALL_CM_MIN 20.0
#define BALL_CM_MAX 120.0
#define HIP_CM_MAX 40.0
#define HIP_CM_ASSUMED                                                                             \
    10.0 /* hip joint above the floor of a person lying: an assumption, common practice */

/* Hip above floor as a share of stature, and so the leg from hip to heel: 0.245 thigh + 0.246 shank
 * + 0.039 ankle. Drillis and Contini 1966 (Body Segment Parameters, NYU TR 1166-03), as drawn by
 * Winter, Biomechanics and Motor Control, Fig. 4.1. A sample average: an estimate, to be marked as
 * one. */
#define LEG_PER_STATURE 0.530

/* What was refused. what and why are static. */
typedef struct {
    const char *what; /* "leg", "distance", "angle", "height", "ball", "hip", "stature" */
    double value;
    char why[120];
} Refusal;

/* One leg at rest against something. reach_cm is the distance from the frame, the diameter of the
 * ball or the height of the heel. deg_per_cm is what one centimetre of it is worth here (closer,
 * larger or higher), and INFINITY where the leg turns on the spot: flat on the floor at a door
 * frame, upright on a ball or heel rest. */
typedef struct {
    GeometryKind kind;
    double leg_cm;
    double hip_cm; /* GEOMETRY_BALL only, else 0 */
    double reach_cm;
    double angle_deg; /* 0 to 90 */
    double deg_per_cm;
} Lay;

/* The leg of a person so tall, within STATURE_CM_MIN..MAX. */
bool leg_from_stature(double stature_cm, double *leg_cm, Refusal *refusal);

/* From where to lie to the angle, and from the angle to where to lie. kind is not GEOMETRY_NONE.
 * False, with the reason, where no such leg can lie so. The formulas give no angle above 90
 * degrees: beyond that the leg hangs over the frame. */
bool lay_from_reach(GeometryKind kind, double leg_cm, double hip_cm, double reach_cm, Lay *lay,
                    Refusal *refusal);
bool lay_from_angle(GeometryKind kind, double leg_cm, double hip_cm, double angle_deg, Lay *lay,
                    Refusal *refusal);

/* Where a client of that angle begins with the set-up: at the angle less the set-up's margin,
 * within what the set-up allows (setup->reach). False where the set-up has no geometry, or its
 * reach does not get down to that angle. */
bool lay_start(const Setup *setup, double leg_cm, double angle_deg, Lay *lay, Refusal *refusal);

#endif
