/* SPDX-License-Identifier: Apache-2.0 */
/* How somebody lies for a movement: the numbers by the geometry of the practice room, the words by
 * the pack. */
#include "core/paper/picture.h"
#include "core/talk/wording.h"

/* Without numbers of one's own: how high the leg is drawn. Neither is told to anybody. */
#define RAISED_DEG 55.0
#define RESTING_DEG 0.0
#define MARGIN_DEG 2.0 /* of a strap, as of every other set-up (common practice) */

static const char *name_of(const SetupDrawing *drawing)
{
    if (drawing->lay.kind == GEOMETRY_DOOR) return "door";
    if (drawing->lay.kind == GEOMETRY_BALL) return "ball";
    if (drawing->lay.kind == GEOMETRY_HEEL) return "heel";
    if (drawing->place == PLACE_CHAIR) return "chair-strap";
    return drawing->strap ? "strap" : "lying";
}

/* The leg as drawn where nothing is known of the client. */
static Lay lay_plain(const Setup *setup, double leg_cm, double angle_deg)
{
    Lay lay = {.kind = setup->geometry, .leg_cm = leg_cm, .angle_deg = angle_deg};
    Refusal refusal;

    if (setup->geometry == GEOMETRY_NONE) return lay;
    if (lay_from_angle(setup->geometry, leg_cm, setup->hip_cm, angle_deg, &lay, &refusal))
        return lay;
    /* No ball is that high for a leg so long: the largest then. */
    double reach = (setup->reach.from + setup->reach.to) / 2;
    if (lay_from_reach(setup->geometry, leg_cm, setup->hip_cm, reach, &lay, &refusal)) return lay;
    return (Lay){.kind = GEOMETRY_NONE, .leg_cm = leg_cm, .angle_deg = angle_deg};
}

/* A whole centimetre, to the side where the leg is lower. */
static double rounded_reach(GeometryKind kind, double reach_cm)
{
    return fabs(kind == GEOMETRY_DOOR ? ceil(reach_cm - 1e-6) : floor(reach_cm + 1e-6));
}

static void lay_out(SetupDrawing *drawing, const SetupAsk *ask)
{
    bool known = ask->leg_cm >= LEG_CM_MIN && ask->leg_cm <= LEG_CM_MAX;
    double leg = known ? ask->leg_cm : LEG_CM_DRAWN;
    bool raised = ask->movement->leg_raised;
    Refusal refusal;

    drawing->stature_cm = leg / LEG_PER_STATURE;
    drawing->lay = lay_plain(ask->setup, leg, raised ? RAISED_DEG : RESTING_DEG);
    if (ask->angle_deg < 0 || !raised || drawing->place == PLACE_CHAIR) return;
    if (ask->setup->geometry != GEOMETRY_NONE) {
        Lay lay;
        if (!known || !lay_start(ask->setup, leg, ask->angle_deg, &lay, &refusal)) return;
        double reach = rounded_reach(lay.kind, lay.reach_cm);
        if (!lay_from_reach(lay.kind, leg, lay.hip_cm, reach, &drawing->lay, &refusal)) return;
        drawing->measured = true;
        drawing->reach = g_strdup_printf("%.0f cm", reach);
    } else {
        drawing->lay.angle_deg = CLAMP(ask->angle_deg - MARGIN_DEG, 0, 110);
        drawing->measured = true;
    }
    drawing->angle = g_strdup_printf("%.0f°", drawing->lay.angle_deg);
}

static char *numbers_of(const Pack *pack, const SetupDrawing *drawing)
{
    if (!drawing->measured) return NULL;
    g_autofree char *key =
        g_strconcat("picture-numbers-", drawing->reach != NULL ? name_of(drawing) : "strap", NULL);
    return wording(pack, key, "angle", drawing->angle, "reach", drawing->reach, NULL);
}

static char *alt_of(const Pack *pack, const SetupDrawing *drawing, const char *numbers)
{
    g_autofree char *name = g_strconcat("picture-", name_of(drawing), NULL);
    g_autofree char *how = wording(pack, name, NULL);

    if (numbers == NULL) return g_steal_pointer(&how);
    return g_strdup_printf("%s %s", how, numbers);
}

/* The figure has one straight leg, on its back, or on a chair in a strap. Whatever is done otherwise is told in words alone: a
 * drawing that shows something else than the words would be followed all the same. */
static bool is_drawn(const Movement *movement, const Setup *setup)
{
    if (setup == NULL || setup->place == PLACE_STANDING) return false;
    if (setup->strap || setup->geometry != GEOMETRY_NONE) return true;
    return setup->place != PLACE_CHAIR && (movement->leg_rests || movement->leg_raised);
}

Picture *picture_of_setup(const Pack *pack, const SetupAsk *ask)
{
    if (!is_drawn(ask->movement, ask->setup)) return NULL;
    Picture *picture = g_new0(Picture, 1);
    picture->setup = g_new0(SetupDrawing, 1);
    picture->setup->place = ask->setup->place;
    picture->setup->strap = ask->setup->strap;
    lay_out(picture->setup, ask);
    picture->title = g_strdup(pack_programme_text(pack, ask->setup->title));
    picture->caption = numbers_of(pack, picture->setup);
    picture->alt = alt_of(pack, picture->setup, picture->caption);
    return picture;
}
