/* SPDX-License-Identifier: Apache-2.0 */
#include "core/practice/geometry.h"

#define DEG_PER_RAD (180.0 / G_PI)

static bool refuse(Refusal *refusal, const char *what, double value, const char *why, ...)
    G_GNUC_PRINTF(4, 5);

static bool refuse(Refusal *refusal, const char *what, double value, const char *why, ...)
{
    va_list list;

    refusal->what = what;
    refusal->value = value;
    va_start(list, why);
    g_vsnprintf(refusal->why, sizeof refusal->why, why, list);
    va_end(list);
    return false;
}

/* False for what is outside and for what is no number at all. */
static bool within(double value, double low, double high)
{
    return value >= low && value <= high;
}

bool leg_from_stature(double stature_cm, double *leg_cm, Refusal *refusal)
{
    if (!within(stature_cm, STATURE_CM_MIN, STATURE_CM_MAX))
        return refuse(refusal, "stature", stature_cm, "must lie within %g to %g cm", STATURE_CM_MIN,
                      STATURE_CM_MAX);
    *leg_cm = LEG_PER_STATURE * stature_cm;
    return true;
}

static bool check_body(GeometryKind kind, double leg_cm, double hip_cm, Refusal *refusal)
{
    g_assert(kind != GEOMETRY_NONE);
    if (!within(leg_cm, LEG_CM_MIN, LEG_CM_MAX))
        return refuse(refusal, "leg", leg_cm, "must lie within %g to %g cm, from hip joint to heel",
                      LEG_CM_MIN, LEG_CM_MAX);
    if (kind == GEOMETRY_BALL && !within(hip_cm, 0, HIP_CM_MAX))
        return refuse(refusal, "hip", hip_cm, "must lie within 0 to %g cm above the floor",
                      HIP_CM_MAX);
    return true;
}

/* How far the heel is above the hip joint, on a ball or heel rest. */
static double rise(GeometryKind kind, double hip_cm, double reach_cm)
{
    return kind == GEOMETRY_BALL ? reach_cm - hip_cm : reach_cm;
}

static bool check_reach(GeometryKind kind, double leg_cm, double hip_cm, double reach_cm,
                        Refusal *refusal)
{
    if (kind == GEOMETRY_DOOR && !within(reach_cm, 0, leg_cm))
        return refuse(refusal, "distance", reach_cm,
                      "must lie within 0 and the leg's %.4g cm, or the heel misses the frame",
                      leg_cm);
    if (kind == GEOMETRY_HEEL && !within(reach_cm, 0, leg_cm))
        return refuse(refusal, "height", reach_cm,
                      "must lie within 0 and the leg's %.4g cm: no heel gets higher", leg_cm);
    if (kind != GEOMETRY_BALL) return true;
    if (!within(reach_cm, BALL_CM_MIN, BALL_CM_MAX))
        return refuse(refusal, "ball", reach_cm, "must be %g to %g cm across", BALL_CM_MIN,
                      BALL_CM_MAX);
    if (!within(rise(kind, hip_cm, reach_cm), 0, leg_cm))
        return refuse(refusal, "ball", reach_cm,
                      "must lie within the hip's %.4g cm and %.4g cm, as high as the leg reaches",
                      hip_cm, hip_cm + leg_cm);
    return true;
}

static double slope_of(GeometryKind kind, double leg_cm, double angle_deg)
{
    double radians = angle_deg / DEG_PER_RAD;
    double turning = kind == GEOMETRY_DOOR ? sin(radians) : cos(radians);

    return turning > 1e-9 ? DEG_PER_RAD / (leg_cm * turning) : INFINITY;
}

bool lay_from_reach(GeometryKind kind, double leg_cm, double hip_cm, double reach_cm, Lay *lay,
                    Refusal *refusal)
{
    if (!check_body(kind, leg_cm, hip_cm, refusal) ||
        !check_reach(kind, leg_cm, hip_cm, reach_cm, refusal))
        return false;
    double share = rise(kind, hip_cm, reach_cm) / leg_cm;
    double angle = (kind == GEOMETRY_DOOR ? acos(share) : asin(share)) * DEG_PER_RAD;
    *lay = (Lay){.kind = kind,
                 .leg_cm = leg_cm,
                 .hip_cm = kind == GEOMETRY_BALL ? hip_cm : 0,
                 .reach_cm = reach_cm,
                 .angle_deg = angle,
                 .deg_per_cm = slope_of(kind, leg_cm, angle)};
    return true;
}

bool lay_from_angle(GeometryKind kind, double leg_cm, double hip_cm, double angle_deg, Lay *lay,
                    Refusal *refusal)
{
    if (!check_body(kind, leg_cm, hip_cm, refusal)) return false;
    if (!within(angle_deg, 0, 90))
        return refuse(refusal, "angle", angle_deg,
                      "must lie within 0 to 90 degrees: a leg that is carried rises no higher");
    double radians = angle_deg / DEG_PER_RAD;
    double reach = leg_cm * (kind == GEOMETRY_DOOR ? cos(radians) : sin(radians));
    if (kind == GEOMETRY_DOOR && angle_deg >= 90) reach = 0;
    if (kind == GEOMETRY_BALL) reach += hip_cm;
    if (kind == GEOMETRY_BALL && !within(reach, BALL_CM_MIN, BALL_CM_MAX))
        return refuse(refusal, "angle", angle_deg,
                      "would need a ball %.1f cm across; balls are %g to %g cm", reach, BALL_CM_MIN,
                      BALL_CM_MAX);
    *lay = (Lay){.kind = kind,
                 .leg_cm = leg_cm,
                 .hip_cm = kind == GEOMETRY_BALL ? hip_cm : 0,
                 .reach_cm = reach,
                 .angle_deg = angle_deg,
                 .deg_per_cm = slope_of(kind, leg_cm, angle_deg)};
    return true;
}

/* Towards the gentler side the reach must be long enough; on the other side the client simply
 * begins gentler. */
bool lay_start(const Setup *setup, double leg_cm, double angle_deg, Lay *lay, Refusal *refusal)
{
    if (setup->geometry == GEOMETRY_NONE) return refuse(refusal, "set-up", 0, "has no geometry");
    double angle = CLAMP(angle_deg - setup->margin_deg, 0, 90);
    if (!lay_from_angle(setup->geometry, leg_cm, setup->hip_cm, angle, lay, refusal)) return false;
    bool door = setup->geometry == GEOMETRY_DOOR;
    if (door ? lay->reach_cm > setup->reach.to : lay->reach_cm < setup->reach.from)
        return refuse(refusal, "angle", angle_deg,
                      "is too low for this set-up: it begins where the leg is higher");
    double gentler =
        door ? MAX(lay->reach_cm, setup->reach.from) : MIN(lay->reach_cm, setup->reach.to);
    if (gentler == lay->reach_cm) return true;
    return lay_from_reach(setup->geometry, leg_cm, setup->hip_cm, gentler, lay, refusal);
}
