/* SPDX-License-Identifier: Apache-2.0 */
/* osier setup: where to lie for an angle, and the angle where one lies. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "core/practice/geometry.h"
#include "daemon/cli/cli.h"

/* One way of carrying the leg. */
typedef struct {
    const char *name;
    GeometryKind kind;
    const char *option; /* "--distance-cm" */
    const char *field;  /* "distance_cm" */
    const char *told;   /* how the reach is told to a person */
    const char *care;
} Way;

static const Way WAYS[] = {
    {"door", GEOMETRY_DOOR, "--distance-cm", "distance_cm", "hip joint %.1f cm from the frame",
     "Measure at the same landmark each time, and trust the change rather than the level.\n"
     "Wedge the door open, phone in reach; slide away from the frame before lowering the leg."},
    {"ball", GEOMETRY_BALL, "--ball-cm", "ball_cm", "heel on a ball %.1f cm across",
     "Put the ball against a wall so that it cannot roll away; a ball gives under the leg, so this "
     "is its top as pressed."},
    {"heel", GEOMETRY_HEEL, "--height-cm", "height_cm", "heel %.1f cm above the hip joint",
     "The support must not slip; bend the knee before lowering the leg."},
};

/* What was asked, as written. NULL where an option was not given. */
typedef struct {
    char *leg;
    char *stature;
    char *angle;
    char *distance;
    char *ball;
    char *height;
    char *hip;
} Asked;

static void asked_clear(Asked *asked)
{
    char **texts[] = {&asked->leg,  &asked->stature, &asked->angle, &asked->distance,
                      &asked->ball, &asked->height,  &asked->hip};

    for (size_t i = 0; i < G_N_ELEMENTS(texts); i++)
        g_free(*texts[i]);
}
G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(Asked, asked_clear)

/* EXIT_OK, or the exit code after a message. */
static int read_number(const char *option, const char *text, double *value)
{
    char *end = NULL;

    *value = g_ascii_strtod(text, &end);
    if (end != text && *end == '\0' && isfinite(*value)) return EXIT_OK;
    return cli_fault(EXIT_DATA, option, text, "is no number; write it like 85 or 85.5");
}

static int tell_refusal(const Way *way, const Refusal *refusal)
{
    static const char *const OPTIONS[][2] = {{"leg", "--leg-cm"},
                                             {"stature", "--stature-cm"},
                                             {"angle", "--angle-deg"},
                                             {"hip", "--hip-cm"}};
    const char *option = way->option;
    g_autofree char *value = g_strdup_printf("%g", refusal->value);

    for (size_t i = 0; i < G_N_ELEMENTS(OPTIONS); i++)
        if (strcmp(refusal->what, OPTIONS[i][0]) == 0) option = OPTIONS[i][1];
    return cli_fault(EXIT_DATA, option, value, "%s", refusal->why);
}

static json_t *rounded(double value, double step)
{
    return isfinite(value) ? json_real(round(value / step) * step) : json_null();
}

static json_t *lay_json(const Way *way, const Lay *lay, bool from_angle, bool estimated,
                        bool hip_assumed)
{
    json_t *out = json_object();
    const char *names[] = {from_angle ? way->field : "angle_deg",
                           from_angle ? "angle_deg" : way->field};
    double values[] = {from_angle ? lay->reach_cm : lay->angle_deg,
                       from_angle ? lay->angle_deg : lay->reach_cm};

    json_object_set_new(out, names[0], rounded(values[0], 0.1));
    json_object_set_new(out, names[1], rounded(values[1], 0.1));
    json_object_set_new(out, "leg_cm", rounded(lay->leg_cm, 0.1));
    json_object_set_new(out, "deg_per_cm", rounded(lay->deg_per_cm, 0.001));
    if (estimated) json_object_set_new(out, "leg_estimated", json_true());
    if (lay->kind != GEOMETRY_BALL) return out;
    json_object_set_new(out, "hip_cm", rounded(lay->hip_cm, 0.1));
    if (hip_assumed) json_object_set_new(out, "hip_assumed", json_true());
    return out;
}

static void tell(const Way *way, const Lay *lay, bool estimated, bool hip_assumed)
{
    g_autofree char *reach = g_strdup_printf("%.1f", lay->reach_cm);
    g_auto(GStrv) told = g_strsplit(way->told, "%.1f", 2);

    printf("%.1f degrees: %s%s%s, leg %.1f cm%s.\n", lay->angle_deg, told[0], reach, told[1],
           lay->leg_cm,
           estimated ? " (estimated as 0.530 of stature; measure it when you can)" : "");
    if (isfinite(lay->deg_per_cm))
        printf("Here one centimetre is worth %.2f degrees.\n", lay->deg_per_cm);
    if (hip_assumed)
        printf("The hip joint is taken to be %g cm above the floor; --hip-cm says otherwise.\n",
               lay->hip_cm);
    printf("%s\nStop where the small of the back starts to flatten, at sharp pain, and at any "
           "tingling.\n",
           way->care);
}

static int read_leg(const Way *way, const Asked *asked, double *leg)
{
    Refusal refusal;
    double stature;

    if ((asked->leg == NULL) == (asked->stature == NULL))
        return cli_fault(EXIT_USE, "setup", way->name, "needs one of --leg-cm and --stature-cm");
    if (asked->leg != NULL) return read_number("--leg-cm", asked->leg, leg);
    int code = read_number("--stature-cm", asked->stature, &stature);
    if (code == EXIT_OK && !leg_from_stature(stature, leg, &refusal))
        code = tell_refusal(way, &refusal);
    return code;
}

/* The one reach that this way takes; a message where another way's was given. */
static int pick_reach(const Way *way, const Asked *asked, const char **text)
{
    const char *given[] = {asked->distance, asked->ball, asked->height};

    for (size_t i = 0; i < G_N_ELEMENTS(WAYS); i++) {
        if (&WAYS[i] == way)
            *text = given[i];
        else if (given[i] != NULL)
            return cli_fault(EXIT_USE, WAYS[i].option, given[i],
                             "is not for a %s; it takes %s or --angle-deg", way->name, way->option);
    }
    if (asked->hip != NULL && way->kind != GEOMETRY_BALL)
        return cli_fault(EXIT_USE, "--hip-cm", asked->hip, "is only for a ball");
    if ((*text == NULL) == (asked->angle == NULL))
        return cli_fault(EXIT_USE, "setup", way->name, "needs one of %s and --angle-deg",
                         way->option);
    return EXIT_OK;
}

static int answer(const Cli *cli, const Way *way, const Asked *asked)
{
    const char *reach_text = NULL;
    double leg = 0, value = 0, hip = HIP_CM_ASSUMED;
    Refusal refusal;
    Lay lay;
    int code = pick_reach(way, asked, &reach_text);

    if (code == EXIT_OK) code = read_leg(way, asked, &leg);
    if (code == EXIT_OK && asked->hip != NULL) code = read_number("--hip-cm", asked->hip, &hip);
    bool from_angle = reach_text == NULL;
    if (code == EXIT_OK)
        code = read_number(from_angle ? "--angle-deg" : way->option,
                           from_angle ? asked->angle : reach_text, &value);
    if (code != EXIT_OK) return code;
    bool fits = from_angle ? lay_from_angle(way->kind, leg, hip, value, &lay, &refusal)
                           : lay_from_reach(way->kind, leg, hip, value, &lay, &refusal);
    if (!fits) return tell_refusal(way, &refusal);
    bool estimated = asked->leg == NULL;
    bool assumed = way->kind == GEOMETRY_BALL && asked->hip == NULL;
    if (cli->json)
        cli_json(lay_json(way, &lay, from_angle, estimated, assumed));
    else
        tell(way, &lay, estimated, assumed);
    return EXIT_OK;
}

static int run(const Cli *cli, int argc, char **argv)
{
    g_auto(Asked) asked = {NULL};
    const GOptionEntry entries[] = {
        {"leg-cm", 0, 0, G_OPTION_ARG_STRING, &asked.leg, NULL, NULL},
        {"stature-cm", 0, 0, G_OPTION_ARG_STRING, &asked.stature, NULL, NULL},
        {"angle-deg", 0, 0, G_OPTION_ARG_STRING, &asked.angle, NULL, NULL},
        {"distance-cm", 0, 0, G_OPTION_ARG_STRING, &asked.distance, NULL, NULL},
        {"ball-cm", 0, 0, G_OPTION_ARG_STRING, &asked.ball, NULL, NULL},
        {"height-cm", 0, 0, G_OPTION_ARG_STRING, &asked.height, NULL, NULL},
        {"hip-cm", 0, 0, G_OPTION_ARG_STRING, &asked.hip, NULL, NULL},
        {NULL},
    };

    if (!cli_options(&COMMAND_SETUP, entries, &argc, &argv)) return EXIT_USE;
    if (argc != 2)
        return cli_fault(EXIT_USE, "setup", argc > 2 ? argv[2] : "",
                         "takes one of: door, ball, heel");
    for (size_t i = 0; i < G_N_ELEMENTS(WAYS); i++)
        if (strcmp(argv[1], WAYS[i].name) == 0) return answer(cli, &WAYS[i], &asked);
    return cli_fault(EXIT_USE, "setup", argv[1], "is unknown; takes one of: door, ball, heel");
}

const Command COMMAND_SETUP = {
    .name = "setup",
    .summary = "where to lie for an angle, and the angle where one lies",
    .usage = "door|ball|heel (--leg-cm N | --stature-cm N) (--distance-cm N | --ball-cm N | "
             "--height-cm N | --angle-deg N)",
    .help = "A straight leg carried by a door frame, a ball or a heel rest; leg from hip joint to "
            "heel.\n"
            "Without --leg-cm the leg is estimated as 0.530 of stature. A ball also takes "
            "--hip-cm, the height\n"
            "of the hip joint above the floor (10 where not given).\n\n"
            "  osier setup door --leg-cm 85 --distance-cm 20     the angle there\n"
            "  osier setup door --leg-cm 85 --angle-deg 70       how far from the frame to lie\n"
            "  osier setup ball --leg-cm 85 --ball-cm 65 --hip-cm 10\n"
            "  osier setup heel --stature-cm 170 --height-cm 45 --json\n",
    .run = run,
};
