/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/rehearsal/setup.h"

#include <string.h>

#include "adapters/files/programmes.h"

static const char PROGRAMME[] = "calf-and-hamstring";

char *setup_times(const Clinic *clinic, const char *at)
{
    g_auto(GStrv) times = g_strsplit(at, ",", -1);
    GString *list = g_string_new(NULL);
    int32_t last = -1;

    for (int i = 0; i < clinic->per_day_max && times[i] != NULL; i++) {
        int32_t second = 0;
        if (!clock_time_parse(times[i], &second)) continue;
        if (quiet_covers(clinic->quiet, second)) second = clinic->quiet.end_second + 30 * 60;
        if (second <= last || quiet_covers(clinic->quiet, second)) continue;
        g_string_append_printf(list, "%s%02d:%02d", list->len > 0 ? "," : "", second / 3600,
                               second / 60 % 60);
        last = second;
    }
    return g_string_free(list, FALSE);
}

static void put_text(json_t *body, const char *field, const char *text)
{
    if (text != NULL) json_object_set_new(body, field, json_string(text));
}

const char *setup_clinician(const World *world, const Resident *who)
{
    const GPtrArray *duty = world->folder->clinic->duty;
    size_t n = (size_t)(who - world->residents);

    return duty->len > 0 ? ((const DutyPerson *)duty->pdata[n % duty->len])->name : "the clinic";
}

static bool add(World *world, Resident *who, const char *clinician)
{
    const Persona *persona = who->someone.persona;
    g_autofree char *date = day_format(world->from);
    g_autofree char *consent =
        g_strdup_printf("%s: signed form, %s, %s", persona->channel, clinician, date);
    json_t *body = json_pack("{s:s, s:s, s:s, s:s, s:i, s:f}", "name", persona->name, "language",
                             who->someone.language, "channel", persona->channel, "consent", consent,
                             "born", persona->born, "leg_cm", persona->leg_cm);

    who->phone = g_strdup(persona->old_phone != NULL ? persona->old_phone : persona->phone);
    put_text(body, "phone", who->phone);
    put_text(body, "email", persona->email);
    put_text(body, "zone", persona->zone);
    put_text(body, "needs", persona->needs);
    json_object_set_new(body, "usual_pain", json_real(persona->usual_pain));
    json_t *answer = link_must(world->link, "POST", "/clients", body);
    who->id = g_strdup(json_string_value(json_object_get(answer, "client")));
    json_decref(answer);
    return who->id != NULL;
}

bool setup_screen(World *world, const Resident *who, const char *clinician)
{
    const Persona *persona = who->someone.persona;
    g_autofree char *path = g_strdup_printf("/clients/%s/screen", who->id);
    json_t *body = json_pack("{s:s, s:s}", "by", clinician, "floor", persona->floor);

    if (persona->finding != NULL)
        json_object_set_new(body, "findings", json_pack("[s]", persona->finding));
    else
        json_object_set_new(body, "clear", json_true());
    json_t *answer = link_must(world->link, "POST", path, body);
    json_decref(answer);
    return answer != NULL;
}

static const Programme *programme_of(const World *world)
{
    const GPtrArray *files = world->folder->programmes;
    const ProgrammeFile *file = programmes_find(files, PROGRAMME);

    if (file == NULL && files->len > 0) file = files->pdata[0];
    return file != NULL ? file->programme : NULL;
}

static json_t *plan_body(const World *world, const Resident *who, const char *programme,
                         const char *clinician)
{
    const Persona *persona = who->someone.persona;
    g_autofree char *times = setup_times(world->folder->clinic, persona->at);
    g_autofree char *start = day_format(world->from);

    return json_pack("{s:s, s:s, s:s, s:s, s:s}", "programme", programme, "at", times, "start",
                     start, "clinician", clinician, "by", clinician);
}

/* What the clinician has set for this client: the goal where the back flattens earlier, and an earlier review. */
static void put_own(const World *world, const Persona *persona, json_t *body)
{
    if (persona->goal_deg > 0) json_object_set_new(body, "goal_deg", json_real(persona->goal_deg));
    if (persona->review_day == 0) return;
    g_autofree char *review = day_format(world->from + persona->review_day);
    put_text(body, "review", review);
}

/* The stage is worked out; where the programme leaves it to the clinician, the first is taken. */
static bool plan(World *world, const Resident *who, const char *clinician)
{
    const Persona *persona = who->someone.persona;
    const Programme *programme = programme_of(world);
    g_autofree char *path = g_strdup_printf("/clients/%s/plan", who->id);
    long status = 0;

    if (programme == NULL) return false;
    json_t *body = plan_body(world, who, programme->key, clinician);
    put_text(body, "felt", persona->felt);
    put_own(world, persona, body);
    if (persona->angle_deg > 0)
        json_object_set_new(body, "angle_deg", json_real(persona->angle_deg));
    json_decref(link_ask(world->link, "POST", path, body, &status));
    if (status == 200) return true;
    body = plan_body(world, who, programme->key, clinician);
    put_own(world, persona, body);
    put_text(body, "stage", programme_stage_at(programme, 0)->key);
    json_t *answer = link_must(world->link, "POST", path, body);
    json_decref(answer);
    return answer != NULL;
}

bool setup_people(World *world)
{
    for (size_t i = 0; i < world->n_residents; i++) {
        Resident *who = &world->residents[i];
        const char *clinician = setup_clinician(world, who);
        if (!add(world, who, clinician) || !setup_screen(world, who, clinician) ||
            !plan(world, who, clinician))
            return false;
    }
    return true;
}
