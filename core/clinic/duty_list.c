/* SPDX-License-Identifier: Apache-2.0 */
#include "core/clinic/address.h"
#include "core/clinic/hours.h"
#include "core/clinic/parts.h"

enum { NAME_BYTES_MAX = 80, ADDRESS_BYTES_MAX = 254 };

static void free_person(void *data)
{
    DutyPerson *person = data;

    g_free(person->name);
    g_free(person->sms);
    g_free(person->email);
    g_array_unref(person->away);
    g_free(person);
}

static DutyPerson *read_person(const Section *section, const char *country_code)
{
    DutyPerson *person = g_new0(DutyPerson, 1);
    const char *why = NULL;

    person->name = section_line(section, "name", true, NAME_BYTES_MAX);
    person->sms = phone_read(section, "sms", false, country_code);
    person->email = section_line(section, "email", false, ADDRESS_BYTES_MAX);
    if (person->email != NULL && !mail_address_valid(person->email, &why))
        section_fault(section, "email", "%s", why);
    person->away = spans_read(section, "away");
    person->after_ms = section_duration(section, "after", 15 * MINUTE_MS, SECOND_MS, DAY_MS);
    if (section->given && !section_has(section, "sms") && !section_has(section, "email"))
        fault_add(section->faults, section->pointer, person->name,
                  "needs sms or email; nobody could call this person");
    return person;
}

/* A second person of the same name or number could not be told from the first. */
static void check_twins(const Section *section, const GPtrArray *duty, const DutyPerson *person)
{
    for (guint i = 0; i < duty->len; i++) {
        const DutyPerson *other = duty->pdata[i];
        if (person->name != NULL && g_strcmp0(other->name, person->name) == 0)
            section_fault(section, "name", "is on the list already");
        if (person->sms != NULL && g_strcmp0(other->sms, person->sms) == 0)
            section_fault(section, "sms", "is the number of %s already",
                          other->name != NULL ? other->name : "another");
    }
}

void duty_read(const Section *root, Clinic *clinic)
{
    static const char *const KEYS[] = {"name", "sms", "email", "away", "after", NULL};
    json_t *list = fault_list(root->faults, root->pointer, root->object, "duty", true);
    size_t index;
    json_t *item;

    clinic->duty = g_ptr_array_new_with_free_func(free_person);
    json_array_foreach(list, index, item)
    {
        g_auto(Section) section = section_item(root, "duty", index, item, KEYS);
        DutyPerson *person = read_person(&section, clinic->country_code);
        check_twins(&section, clinic->duty, person);
        g_ptr_array_add(clinic->duty, person);
    }
    if (list != NULL && clinic->duty->len == 0)
        section_fault(root, "duty",
                      "is empty; somebody must be called when a client is in trouble");
}

bool duty_lists(const Clinic *clinic, const char *name)
{
    for (guint i = 0; i < clinic->duty->len; i++)
        if (strcmp(((const DutyPerson *)clinic->duty->pdata[i])->name, name) == 0) return true;
    return false;
}
