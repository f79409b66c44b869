/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/desk/person.h"

#include <stddef.h>
#include <stdlib.h>
#include <string.h>

#include "adapters/store/card.h"
#include "adapters/store/find_people.h"

static char *text_of(const json_t *value)
{
    return json_is_string(value) ? g_strdup(json_string_value(value)) : NULL;
}

static void take_times(Person *person, const json_t *times)
{
    size_t i;
    json_t *item;

    person->times.n_times = 0;
    json_array_foreach((json_t *)times, i, item)
    {
        int32_t second;
        if (person->times.n_times < SESSION_TIMES_MAX && json_is_string(item) &&
            clock_time_parse(json_string_value(item), &second))
            person->times.times[person->times.n_times++] = second;
    }
}

static void take_text(char **field, const json_t *value)
{
    g_free(*field);
    *field = text_of(value);
}

/* [from, to] of the plan's own dose. */
static Range range_of(const json_t *pair)
{
    return (Range){json_number_value(json_array_get(pair, 0)),
                   json_number_value(json_array_get(pair, 1))};
}

static void take_dose(Person *person, const json_t *dose)
{
    person->dose = (DoseChange){.sets = (int)json_integer_value(json_object_get(dose, "sets")),
                                .repetitions = range_of(json_object_get(dose, "repetitions")),
                                .hold_s = range_of(json_object_get(dose, "hold_s"))};
}

static void take_felt(Person *person, const json_t *answer)
{
    const char *letter = json_string_value(json_object_get(answer, "letter"));

    person->felt = letter != NULL ? letter[0] : 0;
    person->felt_at_ms = json_integer_value(json_object_get(answer, "at"));
    take_text(&person->felt_message, json_object_get(answer, "message"));
}

static void take_checkin_asked(Person *person, const json_t *asked)
{
    person->checkin_asked_ms = json_integer_value(json_object_get(asked, "at"));
    take_text(&person->checkin_message, json_object_get(asked, "message"));
}

/* Settings that are texts and nothing more, in the order of their names. */
typedef struct {
    const char *field;
    size_t offset; /* of the char * in Person */
} TextSetting;

static const TextSetting TEXTS[] = {
    {"language", offsetof(Person, language)},
    {"name", offsetof(Person, name)},
    {"needs", offsetof(Person, needs)},
    {"plan.clinician", offsetof(Person, clinician)},
    {"plan.hash", offsetof(Person, programme_hash)},
    {"plan.programme", offsetof(Person, programme)},
    {"plan.review", offsetof(Person, review)},
    {"plan.rule", offsetof(Person, rule)},
    {"plan.set_up", offsetof(Person, set_up)},
    {"plan.side", offsetof(Person, side)},
    {"plan.stage", offsetof(Person, stage)},
    {"zone", offsetof(Person, zone)},
};

static int by_field(const void *field, const void *setting)
{
    return strcmp(field, ((const TextSetting *)setting)->field);
}

static char **text_setting(Person *person, const char *field)
{
    const TextSetting *setting =
        bsearch(field, TEXTS, G_N_ELEMENTS(TEXTS), sizeof *TEXTS, by_field);

    return setting != NULL ? (char **)((char *)person + setting->offset) : NULL;
}

static void take_plan(Person *person, const char *field, const json_t *value)
{
    if (strcmp(field, "days") == 0)
        person->days_by_stage = g_strcmp0(json_string_value(value), "stage") == 0;
    else if (strcmp(field, "dose") == 0)
        take_dose(person, value);
    else if (strcmp(field, "goal_left") == 0 && json_is_number(value))
        person->goal[0] = json_number_value(value);
    else if (strcmp(field, "goal_right") == 0 && json_is_number(value))
        person->goal[1] = json_number_value(value);
    else if (strcmp(field, "angle_deg") == 0 && json_is_number(value))
        person->angle_deg = json_number_value(value);
    else if (strcmp(field, "times") == 0)
        take_times(person, value);
    else if (strcmp(field, "start") == 0 && json_is_string(value))
        day_parse(json_string_value(value), &person->times.from);
}

static void take_setting(Person *person, const char *field, const json_t *value)
{
    if (g_str_has_prefix(field, "plan."))
        take_plan(person, field + strlen("plan."), value);
    else if (strcmp(field, "channel") == 0 && json_is_string(value))
        channel_from_name(json_string_value(value), &person->channel);
    else if (strcmp(field, "checkin") == 0)
        take_felt(person, value);
    else if (strcmp(field, "checkin-asked") == 0)
        take_checkin_asked(person, value);
    else if (strcmp(field, "away-asked") == 0)
        take_text(&person->away_since, json_object_get(value, "since"));
    else if (strcmp(field, "wording") == 0)
        person->plain = g_strcmp0(json_string_value(value), "plain") == 0;
    else if (strcmp(field, "calendar") == 0)
        person->calendar = json_is_true(value);
    else if (strcmp(field, "returned") == 0)
        person->returned = json_is_string(value);
    else if (strcmp(field, "usual_pain") == 0 && json_is_number(value))
        person->usual_pain = json_number_value(value);
    else if (strcmp(field, "born") == 0)
        person->born = (int)json_number_value(value);
    else if (strcmp(field, "leg_cm") == 0)
        person->leg_cm = json_number_value(value);
    else if (strcmp(field, "stature_cm") == 0)
        person->stature_cm = json_number_value(value);
}

/* Is the JSON text a text without escapes? Nearly every setting is, and needs no parser. */
static bool is_bare_text(const char *text, size_t length)
{
    return length >= 2 && text[0] == '"' && strchr(text, '\\') == NULL;
}

typedef struct {
    Person *person;
    bool client; /* a setting that only a client has was among them */
} Taking;

/* The clinic has the duty to send as a setting, and a replica has its name. Neither is anybody. */
static bool is_of_a_client(const char *field)
{
    return strcmp(field, "sender") != 0 && !g_str_has_prefix(field, "replica.");
}

static void take_each(const char *field, const char *text, void *context)
{
    Taking *taking = context;
    char **own = text_setting(taking->person, field);
    size_t length = text != NULL ? strlen(text) : 0;
    bool bare = is_bare_text(text, length);

    taking->client = taking->client || is_of_a_client(field);
    if (own != NULL && bare) {
        g_free(*own);
        *own = g_strndup(text + 1, length - 2);
        return;
    }
    /* A setting that was cleared has no value, and needs none either: a third of them. */
    json_t *value = bare         ? json_stringn(text + 1, length - 2)
                    : length > 0 ? json_loads(text, JSON_DECODE_ANY, NULL)
                                 : NULL;
    if (own != NULL)
        take_text(own, value);
    else
        take_setting(taking->person, field, value);
    json_decref(value);
}

static void take_contact(const char *name, const char *address, bool consent, void *context)
{
    Person *person = ((Taking *)context)->person;
    Channel channel;

    if (!channel_from_name(name, &channel)) return;
    person->consent[channel] = consent;
    if (channel == CHANNEL_PHONE) return;
    g_free(person->address[channel]);
    person->address[channel] = g_strdup(address);
}

static void take_bars(Job *job, Person *person, bool barred)
{
    person->bars = barred ? find_bars(job->tx, person->id)
                          : g_ptr_array_new_with_free_func((GDestroyNotify)row_free);
    for (guint i = 0; i < person->bars->len; i++) {
        const char *kind = row_text(person->bars->pdata[i], BAR_KIND);
        person->stopped = person->stopped || strcmp(kind, "stop") == 0;
        person->paused = person->paused || strcmp(kind, "pause") == 0;
        person->held = person->held || strcmp(kind, "hold") == 0;
        person->suspended = person->suspended || strcmp(kind, "suspend") == 0;
        person->ended = person->ended || strcmp(kind, "end") == 0;
    }
}

/* NULL where the store knows nothing of the client, or what it knows is no client's. */
static Person *read_person(Job *job, const char *client)
{
    Person *person = g_new0(Person, 1);

    person->refs = 1;
    person->id = g_strdup(client);
    person->usual_pain = -1;
    person->goal[0] = person->goal[1] = -1;
    person->angle_deg = -1;
    Taking taking = {.person = person};
    CardReader reader = {.setting = take_each, .contact = take_contact, .context = &taking};
    bool barred;
    if (card_read(job->tx, client, &reader, &barred) == 0 || !taking.client) {
        person_free(person);
        return NULL;
    }
    if (person->zone == NULL) person->zone = g_strdup(job->clinic->zone);
    if (person->language == NULL) person->language = g_strdup(job->clinic->language);
    if (person->name == NULL) person->name = g_strdup(client);
    person->times.rule = person->rule;
    person->days_by_stage = person->days_by_stage || person->rule == NULL;
    take_bars(job, person, barred);
    return person;
}

Person *person_load(Job *job, const char *client)
{
    if (client == NULL) return NULL;
    g_autofree char *id = g_strdup(tx_one(job->tx, client));
    if (job->people == NULL) return read_person(job, id);
    int64_t moves = tx_people_moves(job->tx);
    Person *person = people_find(job->people, moves, id);
    if (person != NULL) return person;
    person = read_person(job, id);
    if (person != NULL) people_keep(job->people, moves, person);
    return person;
}

Person *person_ref(Person *person)
{
    person->refs++;
    return person;
}

Person *person_again(Job *job, const Person *before)
{
    Person *person = person_load(job, before->id);

    g_assert(person != NULL || tx_is_lost(job->tx));
    return person != NULL ? person : person_ref((Person *)before);
}

void person_free(Person *person)
{
    if (person == NULL || --person->refs > 0) return;
    g_free(person->id);
    g_free(person->name);
    g_free(person->zone);
    g_free(person->language);
    g_free(person->address[CHANNEL_SMS]);
    g_free(person->address[CHANNEL_EMAIL]);
    g_free(person->needs);
    g_clear_pointer(&person->bars, g_ptr_array_unref);
    g_free(person->programme);
    g_free(person->programme_hash);
    g_free(person->stage);
    g_free(person->rule);
    g_free(person->side);
    g_free(person->clinician);
    g_free(person->review);
    g_free(person->set_up);
    g_free(person->felt_message);
    g_free(person->checkin_message);
    g_free(person->away_since);
    g_free(person);
}

GTimeZone *person_zone(Job *job, const Person *person)
{
    return job_zone(job, person->zone);
}

char *person_initials(const Person *person)
{
    GString *initials = g_string_new(NULL);
    bool start = true;

    for (const char *p = person->name; *p != '\0'; p = g_utf8_next_char(p)) {
        gunichar c = g_utf8_get_char(p);
        if (g_unichar_isalnum(c) && start) {
            g_string_append_unichar(initials, g_unichar_toupper(c));
            g_string_append_c(initials, '.');
        }
        start = !g_unichar_isalnum(c) && c != '\'';
    }
    return g_string_free(initials, FALSE);
}

char *person_first_name(const Person *person)
{
    return g_strndup(person->name, strcspn(person->name, " \t"));
}

json_t *person_bars(const Person *person, const char *kind)
{
    json_t *ids = json_array();

    for (guint i = 0; i < person->bars->len; i++) {
        const Row *bar = person->bars->pdata[i];
        const char *has = row_text(bar, BAR_KIND);
        bool named = kind != NULL ? strcmp(has, kind) == 0
                                  : strcmp(has, "hold") != 0 && strcmp(has, "end") != 0;
        if (named) json_array_append_new(ids, json_string(row_text(bar, BAR_ID)));
    }
    return ids;
}

bool person_has_plan(const Person *person)
{
    return person->programme != NULL && person->stage != NULL && person->times.n_times > 0 &&
           !person->ended;
}
