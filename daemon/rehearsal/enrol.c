/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/rehearsal/enrol.h"

#include <string.h>

#include "adapters/files/packs.h"
#include "adapters/files/programmes.h"

static void set_text(json_t *body, const char *field, const char *value)
{
    if (value != NULL) json_object_set_new(body, field, json_string(value));
}

static const char *clinician_for(const World *world, size_t number)
{
    const GPtrArray *duty = world->folder->clinic->duty;

    return ((const DutyPerson *)duty->pdata[number % duty->len])->name;
}

static bool add(World *world, Resident *resident, const char *clinician)
{
    const Persona *who = resident->someone.persona;
    const char *language =
        packs_find(world->folder->packs, who->language) != NULL ? who->language : NULL;
    const char *phone = who->old_phone != NULL ? who->old_phone : who->phone;
    g_autofree char *date = day_format(world->from);
    g_autofree char *consent =
        g_strdup_printf("%s: signed form, %s, %s", who->channel, clinician, date);
    json_t *body = json_pack("{s:s, s:f, s:s}", "name", who->name, "usual_pain", who->usual_pain,
                             "consent", consent);

    set_text(body, "zone", who->zone);
    set_text(body, "language", language);
    set_text(body, "channel", who->channel);
    set_text(body, "phone", phone);
    set_text(body, "email", who->email);
    set_text(body, "needs", who->needs);
    if (who->leg_cm > 0) json_object_set_new(body, "leg_cm", json_real(who->leg_cm));
    if (who->born > 0) json_object_set_new(body, "born", json_integer(who->born));
    json_t *answer = link_must(world->link, "POST", "/clients", body);
    resident->id = g_strdup(json_string_value(json_object_get(answer, "client")));
    resident->phone = g_strdup(phone);
    json_decref(answer);
    return resident->id != NULL;
}

static bool screen(World *world, const Resident *resident, const char *clinician)
{
    const Persona *who = resident->someone.persona;
    g_autofree char *path = g_strdup_printf("/clients/%s/screen", resident->id);
    json_t *body = json_pack("{s:s, s:s}", "by", clinician, "floor", who->floor);

    if (who->finding != NULL)
        json_object_set_new(body, "findings", json_pack("[s]", who->finding));
    else
        json_object_set_new(body, "clear", json_true());
    json_t *answer = link_must(world->link, "POST", path, body);
    json_decref(answer);
    return answer != NULL;
}

/* The stage is worked out; where osier says that the clinician comes first, the clinician names the first stage. */
static bool plan(World *world, const Resident *resident, const char *clinician)
{
    const Persona *who = resident->someone.persona;
    const ProgrammeFile *file = programmes_find(world->folder->programmes, "calf-and-hamstring");
    g_autofree char *path = g_strdup_printf("/clients/%s/plan", resident->id);
    long status = 0;

    if (file == NULL && world->folder->programmes->len > 0)
        file = world->folder->programmes->pdata[0];
    if (file == NULL) return false;
    json_t *body = json_pack("{s:s, s:s, s:s}", "programme", file->programme->key, "at", who->at,
                             "clinician", clinician);
    set_text(body, "felt", who->felt);
    if (who->angle_deg > 0) json_object_set_new(body, "angle_deg", json_real(who->angle_deg));
    json_t *answer = link_ask(world->link, "POST", path, json_deep_copy(body), &status);
    json_decref(answer);
    if (status == 403) {
        set_text(body, "stage", programme_stage_at(file->programme, 0)->key);
        answer = link_must(world->link, "POST", path, json_deep_copy(body));
        json_decref(answer);
        status = answer != NULL ? 200 : 500;
    }
    json_decref(body);
    return status == 200;
}

bool enrol_all(World *world)
{
    for (size_t i = 0; i < world->n_residents; i++) {
        Resident *resident = &world->residents[i];
        const char *clinician = clinician_for(world, i);
        if (!add(world, resident, clinician) || !screen(world, resident, clinician) ||
            !plan(world, resident, clinician))
            return false;
    }
    return true;
}
