/* SPDX-License-Identifier: Apache-2.0 */
/* The hand-out, in the client's language. */
#include <string.h>

#include "core/clinic/address.h"
#include "core/clinic/route.h"
#include "core/paper/handout.h"
#include "daemon/cli/cli.h"
#include "daemon/control/handlers.h"
#include "daemon/jobs/pictures.h"
#include "daemon/jobs/sharers.h"

/* The number or address that a client's messages come from (g_free), or NULL where the settings do not say it. */
static char *number_of(const Clinic *clinic, const Person *person)
{
    const char *phone = person->address[CHANNEL_SMS];

    if (person->channel == CHANNEL_SMS && phone != NULL)
        return g_strdup(route_texts_from(clinic, phone));
    for (guint i = 0; i < clinic->gateways->len; i++) {
        const Gateway *gateway = clinic->gateways->pdata[i];
        if (person->channel == CHANNEL_EMAIL && gateway->mail_from != NULL)
            return mail_address_of(gateway->mail_from, NULL);
    }
    return NULL;
}

static bool read_paper(Call *call, bool *letter)
{
    const char *name = call_text(call, "paper");

    if (paper_is_letter(name, letter)) return true;
    return call_fail(call, EXIT_USE, "paper", name, "must be one of a4, letter");
}

static bool asked_for(const Call *call, const char *field)
{
    return g_strcmp0(call_text(call, field), "true") == 0;
}

/* What must not be taken home: a sheet for somebody who is to wait for a clinician. */
static bool may_have(Call *call, const Person *person, const Ready *ready)
{
    if (ready == NULL)
        return call_fail(call, EXIT_NO_SUCH, "plan", person->id, "this client has no plan");
    if (person->held)
        return call_fail(call, EXIT_NOT_ALLOWED, "client", person->id,
                         "is on hold; a clinician lifts it first, by closing the alert");
    if (ready->screen->due)
        return call_fail(call, EXIT_NOT_ALLOWED, "client", person->id,
                         "a fresh screen is due before any stretching");
    return true;
}

/* paper: a4 or letter; large: true for 18 pt. */
bool handle_handout(Job *job, Call *call)
{
    g_autoptr(Person) person = call_person(job, call);
    g_autoptr(Ready) ready =
        person != NULL && person_has_plan(person) ? ready_judge(job, person) : NULL;
    HandoutMovement movements[STAGE_MOVEMENTS_MAX];
    bool letter;

    if (person == NULL || !may_have(call, person, ready) || !read_paper(call, &letter))
        return false;
    const Pack *pack = settings_pack(job->settings, person->language);
    g_autofree char *number = number_of(job->clinic, person);
    char sharer = person->channel == CHANNEL_SMS ? sharers_letter(job, person) : 0;
    g_autofree char *file = g_strdup_printf("handout-%s.pdf", person->id);
    int n = movements_lay_out(person, ready, movements);
    for (int i = 0; i < n; i++)
        movements[i].picture = pictures_setup(job, person, ready, movements[i].movement, pack);
    Paper *sheet = handout_sheet(
        pack, &(HandoutAsk){.clinic = job->clinic,
                            .programme = ready->ask.programme,
                            .stage = ready->ask.stage,
                            .name = person->name,
                            .day = zone_local(person_zone(job, person), job->now_ms).day,
                            .side = person->side,
                            .times = person->times.times,
                            .n_times = person->times.n_times,
                            .days_a_week = plan_days_a_week(job, person),
                            .channel = person->channel,
                            .number = number,
                            .sharer = sharer,
                            .change = &person->dose,
                            .one_dose_lower = ready->answer.one_dose_lower,
                            .movements = movements,
                            .n_movements = n,
                            .letter = letter,
                            .large = asked_for(call, "large")});
    sheet->made = instant_format(job->now_ms);
    return call_draw(call, drawing_of_sheet(sheet, file));
}
