/* SPDX-License-Identifier: Apache-2.0 */
#include "core/clinic/caution.h"

#include "core/clinic/route.h"

static void look_at_digest(const Clinic *clinic, json_t *tree, Faults *cautions)
{
    json_t *to = json_object_get(json_object_get(json_object_get(tree, "clinic"), "digest"), "to");

    for (guint i = 0; i < clinic->digest_to->len; i++) {
        g_autofree char *item = fault_pointer_item("/clinic/digest/to", i);
        fault_add(cautions, json_is_array(to) ? item : "/clinic/digest/to",
                  clinic->digest_to->pdata[i],
                  "no gateway takes mail, and nothing is sent here; add one of kind mail");
    }
}

static void look_at_person(const Clinic *clinic, guint number, Faults *cautions)
{
    const DutyPerson *person = clinic->duty->pdata[number];
    g_autofree char *item = fault_pointer_item("/duty", number);
    g_autofree char *email = fault_pointer(item, "email");
    g_autofree char *sms = fault_pointer(item, "sms");

    if (person->email != NULL && !route_takes(clinic, CHANNEL_EMAIL))
        fault_add(cautions, email, person->email, "no gateway takes mail, and %s",
                  person->sms == NULL ? "this person cannot be called; add one of kind mail"
                                      : "nothing is sent here; add one of kind mail");
    if (person->sms != NULL && !route_takes(clinic, CHANNEL_SMS))
        fault_add(cautions, sms, person->sms,
                  "no gateway takes texts, and nobody is called here; add one of kind http-sms");
}

static void look_at_gateways(const Clinic *clinic, Faults *cautions)
{
    for (guint i = 0; i < clinic->gateways->len; i++) {
        const Gateway *gateway = clinic->gateways->pdata[i];
        g_autofree char *place = fault_pointer("/gateways", gateway->name);
        if (gateway->kind == GATEWAY_MAIL && gateway->imap == NULL)
            fault_add_key(cautions, place, gateway->name,
                          "has no imap: what is written back by mail reaches nobody");
    }
}

void clinic_cautions(const Clinic *clinic, json_t *tree, Faults *cautions)
{
    if (!route_takes(clinic, CHANNEL_EMAIL)) look_at_digest(clinic, tree, cautions);
    for (guint i = 0; i < clinic->duty->len; i++)
        look_at_person(clinic, i, cautions);
    look_at_gateways(clinic, cautions);
}
