/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/rehearsal/world.h"

#include <string.h>
#include <time.h>

#include "adapters/files/packs.h"
#include "adapters/mail/parts.h"
#include "core/watch/duty.h"
#include "daemon/rehearsal/likeness.h"
#include "daemon/rehearsal/mail_answer.h"
#include "daemon/rehearsal/mishaps.h"
#include "daemon/rehearsal/staff.h"
#include "daemon/rehearsal/understanding.h"
#include "daemon/rehearsal/visit.h"

enum { HOOK_TRIES = 30, TWICE_OF = 25 };

int world_draw(World *world, const char *purpose, int below)
{
    return (int)random_below(world->random, purpose, (uint64_t)MAX(below, 1));
}

static void letter_free(void *data)
{
    Letter *letter = data;

    g_free(letter->id);
    g_free(letter->from);
    g_free(letter->text);
    g_free(letter);
}

static void mail_free(void *data)
{
    Mail *mail = data;

    g_free(mail->to);
    g_free(mail->id);
    g_bytes_unref(mail->bytes);
    g_free(mail);
}

Resident *world_resident(World *world, const char *client)
{
    for (size_t i = 0; i < world->n_residents; i++)
        if (g_strcmp0(world->residents[i].id, client) == 0) return &world->residents[i];
    return NULL;
}

/* --- to the clinic -------------------------------------------------------------------------- */

/* The gateway through which people's texts come in: the first that brings any. */
static const Gateway *way_in(const World *world)
{
    const GPtrArray *gateways = world->folder->clinic->gateways;

    for (guint i = 0; i < gateways->len; i++) {
        const Gateway *gateway = gateways->pdata[i];
        if (gateway->poll != NULL || gateway->webhook != NULL) return gateway;
    }
    return NULL;
}

static const char *secret(const char *name, void *world)
{
    return secrets_get(((World *)world)->folder->secrets, name);
}

static HookMessage hook_of(const Letter *letter)
{
    return (HookMessage){letter->id, letter->from, letter->text, letter->at_ms};
}

static void post_letter(void *context, void *subject)
{
    World *world = context;
    Letter *letter = subject;
    const HookMessage message = hook_of(letter);
    WireRequest *request = hook_message(way_in(world)->webhook, world->hooks_origin, &message,
                                        (int64_t)time(NULL), secret, world);

    letter->tries++;
    WireResponse *response = request != NULL ? link_deliver(world->link, request) : NULL;
    letter->arrived = letter->arrived || (response != NULL && response->phase == PHASE_ANSWERED &&
                                          response->status / 100 == 2);
    wire_response_free(response);
    if (!letter->arrived && letter->tries < HOOK_TRIES)
        agenda_add(world->agenda, world->now_ms + MINUTE_MS, post_letter, letter, NULL);
}

/* Some gateways deliver a message twice. */
static void deliver(World *world, Letter *letter)
{
    const Gateway *gateway = way_in(world);
    bool hook = gateway->webhook != NULL &&
                (gateway->poll == NULL || world_draw(world, "way in", 100) < 70);
    bool twice = world_draw(world, "delivered twice", TWICE_OF) == 0;
    const HookMessage message = hook_of(letter);

    letter->posted = hook;
    for (int n = 0; n < (twice ? 2 : 1); n++) {
        if (hook) {
            post_letter(world, letter);
        } else {
            standin_put(world->standin, gateway->name, &message);
        }
    }
}

static Letter *letter_new(World *world, const char *from, const char *text, const Resident *who,
                          const Saying *saying)
{
    Letter *letter = g_new0(Letter, 1);

    *letter = (Letter){.id = g_strdup_printf("in-%05u", world->letters->len + 1),
                       .from = g_strdup(from),
                       .text = g_strdup(text),
                       .at_ms = world->now_ms,
                       .who = who,
                       .truth = {-1, -1, -1}};
    if (saying != NULL) {
        letter->meaning = saying->meaning;
        letter->truth = saying->truth;
        letter->day = saying->day;
    }
    g_ptr_array_add(world->letters, letter);
    return letter;
}

void world_text(World *world, const char *from, const char *text, const Resident *who,
                const Saying *saying)
{
    if (way_in(world) == NULL) return;
    deliver(world, letter_new(world, from, text, who, saying));
}

/* Is there a mailbox that osierd reads? */
static bool reads_mail(const World *world)
{
    const GPtrArray *gateways = world->folder->clinic->gateways;

    for (guint i = 0; i < gateways->len; i++)
        if (((const Gateway *)gateways->pdata[i])->imap != NULL) return true;
    return false;
}

void world_mail_back(World *world, const Resident *who, GBytes *answered, const Saying *saying)
{
    const Persona *persona = who->someone.persona;

    if (!reads_mail(world)) { /* they ring, or write a text */
        world_text(world, persona->phone, saying->text, who, saying);
        return;
    }
    Letter *letter = letter_new(world, persona->email, saying->text, who, saying);
    letter->mailed = true;
    g_ptr_array_add(world->mailbox->mails, mail_answer(&(MailAnswer){.id = letter->id,
                                                                     .name = persona->name,
                                                                     .from = persona->email,
                                                                     .text = letter->text,
                                                                     .at_ms = letter->at_ms,
                                                                     .zone = who->someone.zone,
                                                                     .answered = answered}));
}

bool world_on_its_way(const World *world, const Letter *letter)
{
    if (letter->mailed) return letter->at_ms >= world->last_search_ms;
    return letter->at_ms >= world->last_poll_ms && !letter->posted;
}

/* --- to the people -------------------------------------------------------------------------- */

typedef struct {
    Resident *who;
    Saying *saying;
    GBytes *answered; /* the mail that is answered by mail, or NULL */
} Intent;

static void intent_free(void *data)
{
    Intent *intent = data;

    saying_free(intent->saying);
    if (intent->answered != NULL) g_bytes_unref(intent->answered);
    g_free(intent);
}

static void write_back(void *context, void *subject)
{
    World *world = context;
    Intent *intent = subject;
    Resident *who = intent->who;

    who->someone.open = false;
    if (intent->answered != NULL)
        world_mail_back(world, who, intent->answered, intent->saying);
    else
        world_text(world, who->someone.persona->phone, intent->saying->text, who, intent->saying);
}

/* mail: what is heard, or NULL where it is a text. */
static void hear(World *world, Resident *who, const char *key, GHashTable *values, GBytes *mail)
{
    const char *value = g_hash_table_lookup(values, "value");
    int number = value != NULL ? atoi(value) : -1;
    Saying *saying = person_hear(&who->someone, world->random, key, number, world->now_ms);

    if (saying == NULL) return;
    Intent *intent = g_new0(Intent, 1);
    *intent = (Intent){who, saying, mail != NULL ? g_bytes_ref(mail) : NULL};
    agenda_add(world->agenda, saying->at_ms, write_back, intent, intent_free);
}

/* How far the time is from the times that a resident is reminded at, in seconds. */
static int32_t distance(const Resident *resident, int64_t now_ms)
{
    g_auto(GStrv) times = g_strsplit(resident->someone.persona->at, ",", -1);
    int32_t second = zone_local(resident->someone.zone, now_ms).second;
    int32_t least = G_MAXINT32;

    for (int i = 0; times[i] != NULL; i++) {
        int32_t at = 0;
        if (clock_time_parse(times[i], &at)) least = MIN(least, ABS(at - second));
    }
    return least;
}

/* Whom a text is for: of two who share the phone, who has the letter before it, or whose time of day it is. The first text with a
 * letter is taken so by whom it reaches then, and the letter is theirs. */
static Resident *owner_of(World *world, const char *number, char letter)
{
    Resident *owner = NULL;

    for (size_t i = 0; i < world->n_residents; i++) {
        Resident *resident = &world->residents[i];
        char own = resident->someone.letter;
        if (g_strcmp0(resident->someone.persona->phone, number) != 0) continue;
        if (letter != 0 && own == letter) return resident;
        if (letter != 0 && own != 0) continue;
        if (owner == NULL || distance(resident, world->now_ms) < distance(owner, world->now_ms))
            owner = resident;
    }
    if (owner != NULL && letter != 0) owner->someone.letter = letter;
    return owner;
}

static void on_text(const char *gateway, const char *gateway_id, const char *to, const char *text,
                    void *context)
{
    World *world = context;
    g_autoptr(GHashTable) values = likeness_new();
    const char *key = understand(world->folder->packs, text, values);
    const DutyPerson *clinician = duty_by_number(world->folder->clinic, to);

    world->stirred = true;
    world->texts_out++;
    mishaps_receipt(world, gateway, gateway_id);
    if (clinician != NULL) {
        staff_hear(world, clinician, key, values);
        return;
    }
    const char *letter = g_hash_table_lookup(values, "letter");
    Resident *who = owner_of(world, to, letter != NULL ? letter[0] : '\0');
    if (who != NULL) hear(world, who, key, values, NULL);
}

static const DutyPerson *clinician_of(const World *world, const char *address)
{
    const GPtrArray *duty = world->folder->clinic->duty;

    for (guint i = 0; i < duty->len; i++) {
        const DutyPerson *person = duty->pdata[i];
        if (person->email != NULL && g_ascii_strcasecmp(person->email, address) == 0) return person;
    }
    return NULL;
}

static void keep_mail(World *world, const char *to, GBytes *bytes)
{
    Mail *mail = g_new0(Mail, 1);

    *mail = (Mail){.to = g_strdup(to),
                   .bytes = g_bytes_ref(bytes),
                   .id = mail_message_id(bytes),
                   .at_ms = world->now_ms};
    for (guint i = 0; i < world->mails->len; i++) {
        const Mail *before = world->mails->pdata[i];
        world->mails_repeated += strcmp(before->id, mail->id) == 0;
    }
    g_ptr_array_add(world->mails, mail);
}

void world_mail(const GPtrArray *to, GBytes *bytes, void *context)
{
    World *world = context;
    g_autofree char *text = mail_part(bytes, "plain");

    world->stirred = true;
    keep_mail(world, to->pdata[0], bytes);
    for (guint i = 0; text != NULL && i < to->len; i++) {
        g_autoptr(GHashTable) values = likeness_new();
        const char *key = understand(world->folder->packs, text, values);
        const DutyPerson *clinician = clinician_of(world, to->pdata[i]);
        if (clinician != NULL) staff_hear(world, clinician, key, values);
        for (size_t k = 0; k < world->n_residents; k++) {
            const char *own = world->residents[k].someone.persona->email;
            if (own != NULL && g_ascii_strcasecmp(own, to->pdata[i]) == 0)
                hear(world, &world->residents[k], key, values, bytes);
        }
    }
}

void world_serve(ServeRequest *request, void *context)
{
    World *world = context;

    if (g_str_has_prefix(serve_path(request), "/poll/")) world->last_poll_ms = world->now_ms;
    standin_serve(request, world->standin);
}

bool world_act(World *world)
{
    bool acted = false;

    if (world->mailbox->searches != world->searches) {
        world->searches = world->mailbox->searches;
        world->last_search_ms = world->now_ms;
    }
    while (agenda_step(world->agenda, world->now_ms, world))
        acted = true;
    return acted;
}

/* --- life ----------------------------------------------------------------------------------- */

static GTimeZone *zone_of(World *world, const char *name)
{
    GTimeZone *zone = zones_get(world->zones, name);

    return g_time_zone_ref(zone != NULL ? zone : world->zone);
}

World *world_new(const WorldPlan *plan)
{
    World *world = g_new0(World, 1);
    const Persona *cast = people(&world->n_residents);

    if (plan->clients > 0) world->n_residents = MIN(world->n_residents, plan->clients);
    world->loop = plan->loop;
    world->folder = plan->folder;
    world->zones = zones_new();
    world->zone = g_time_zone_ref(zones_get(world->zones, plan->folder->clinic->zone));
    world->random = random_seeded_new(plan->seed);
    world->link = plan->link;
    world->mailbox = plan->mailbox;
    world->agenda = agenda_new();
    world->standin = standin_new(plan->folder->clinic, on_text, world);
    world->hooks_origin = g_strdup_printf("http://127.0.0.1:%d", plan->hooks_port);
    world->from = plan->from;
    world->now_ms = plan->start_ms;
    world->letters = g_ptr_array_new_with_free_func(letter_free);
    world->moves = g_ptr_array_new_with_free_func(visit_move_free);
    world->mails = g_ptr_array_new_with_free_func(mail_free);
    world->residents = g_new0(Resident, world->n_residents);
    for (size_t i = 0; i < world->n_residents; i++) {
        const char *zone = cast[i].zone != NULL ? cast[i].zone : plan->folder->clinic->zone;
        const char *language = packs_find(plan->folder->packs, cast[i].language) != NULL
                                   ? cast[i].language
                                   : plan->folder->clinic->language;
        world->residents[i].someone = (Someone){.persona = &cast[i],
                                                .language = language,
                                                .zone = zone_of(world, zone),
                                                .from = plan->from};
    }
    mishaps_plan(world, plan->end_ms);
    staff_plan_rounds(world, plan->start_ms, plan->end_ms);
    visits_plan(world, plan->start_ms, plan->end_ms);
    return world;
}

void world_free(World *world)
{
    if (world == NULL) return;
    for (size_t i = 0; i < world->n_residents; i++) {
        g_time_zone_unref(world->residents[i].someone.zone);
        g_free(world->residents[i].id);
        g_free(world->residents[i].phone);
    }
    g_free(world->residents);
    agenda_free(world->agenda);
    standin_free(world->standin);
    g_ptr_array_unref(world->letters);
    g_ptr_array_unref(world->mails);
    g_ptr_array_unref(world->moves);
    random_free(world->random);
    g_time_zone_unref(world->zone);
    zones_free(world->zones);
    g_free(world->hooks_origin);
    g_free(world);
}
