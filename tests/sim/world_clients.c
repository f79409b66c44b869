/* SPDX-License-Identifier: Apache-2.0 */
/* Clients: who they are, and how they answer. */
#include <string.h>

#include "core/calendar/date.h"
#include "tests/sim/world.h"

/* A text from a client whose phone it is. */
typedef struct {
    Says says;
} Wish;

static void write_back(World *world, int index, void *data)
{
    WorldPerson *person = world->people->pdata[index];
    const Phrase *phrase = phrase_draw(world->random, ((Wish *)data)->says);

    if (phrase->says == SAYS_STOP) person->stopped = true;
    if (phrase->says == SAYS_START) person->stopped = false;
    if (person->letter == 0 || world_chance(world, "forgets the letter", 30)) {
        world_say(world, person->phone, phrase->text, WAY_ANY);
        return;
    }
    g_autofree char *text = g_strdup_printf("%c %s", person->letter, phrase->text);
    world_say(world, person->phone, text, WAY_ANY);
}

/* "R: Withy Lane: time for ..." */
static void see_letter(WorldPerson *person, const Sent *sent)
{
    const char *text = sent->text;
    bool asks = strcmp(sent->kind, "reminder") == 0 || strcmp(sent->kind, "nudge") == 0;

    if (asks) person->letter = g_ascii_isupper(text[0]) && text[1] == ':' ? text[0] : 0;
}

static void write_later(World *world, int index, int64_t wait_ms, Says says)
{
    Wish *wish = g_new0(Wish, 1);

    wish->says = says;
    world_later(world, wait_ms, write_back, index, wish);
}

/* What a client says of a session: mostly what was asked for. */
static Says draw_answer(World *world)
{
    static const struct {
        Says says;
        int weight;
    } WEIGHTS[] = {
        {SAYS_DONE, 680}, {SAYS_NOT, 110},   {SAYS_PARTLY, 40},  {SAYS_PAIN, 30},
        {SAYS_SOME, 30},  {SAYS_NUMBER, 10}, {SAYS_WARNING, 24}, {SAYS_STOP, 10},
        {SAYS_HELP, 8},   {SAYS_SUSPEND, 8}, {SAYS_DEATH, 6},    {SAYS_WRONG, 4},
        {SAYS_ODD, 40},
    };
    int left = (int)random_below(world->random, "answer", 1000);

    for (size_t i = 0; i < G_N_ELEMENTS(WEIGHTS); i++) {
        left -= WEIGHTS[i].weight;
        if (left < 0) return WEIGHTS[i].says;
    }
    return SAYS_DONE;
}

static Says calm_answer(World *world)
{
    return world_is_calm(world) ? SAYS_DONE : draw_answer(world);
}

static int index_of(const World *world, const char *client)
{
    for (guint i = 0; i < world->people->len; i++)
        if (g_strcmp0(((WorldPerson *)world->people->pdata[i])->id, client) == 0) return (int)i;
    return -1;
}

static void answer_question(World *world, int index, const Written *written)
{
    WorldPerson *person = world->people->pdata[index];
    bool stretch = strstr(written->text, "STRETCH") != NULL;

    if (!world_chance(world, "question", 60)) return;
    if (stretch && world_chance(world, "stretch", 50))
        world_say(world, person->phone, "STRETCH 8", WAY_ANY);
    else
        write_later(world, index, world_wait(world, "question", MINUTE_MS, 5 * HOUR_MS), SAYS_PAIN);
}

void world_client_reads(World *world, const Sent *sent, const Written *written)
{
    int index = index_of(world, sent->client);

    if (index < 0) return;
    WorldPerson *person = world->people->pdata[index];
    see_letter(person, sent);
    if (strcmp(sent->kind, "reminder") == 0 || strcmp(sent->kind, "nudge") == 0) {
        int share = strcmp(sent->kind, "nudge") == 0 ? 40 : person->answers_percent;
        int64_t most = world_chance(world, "slow answer", 25) ? 18 * HOUR_MS : 2 * HOUR_MS;
        if (!world_chance(world, "answers", share)) return;
        write_later(world, index, world_wait(world, "answer", MINUTE_MS, most), calm_answer(world));
        if (!world_is_calm(world) && world_chance(world, "second thought", 8))
            write_later(world, index, world_wait(world, "second", MINUTE_MS, 6 * HOUR_MS),
                        draw_answer(world));
    } else if (strcmp(sent->kind, "question") == 0 && !world_is_calm(world)) {
        answer_question(world, index, written);
    } else if (strcmp(sent->kind, "stopped") == 0 && world_chance(world, "stops in pain", 25)) {
        /* A sign after the stop, and a start soon after: it ends the stop and not the hold. */
        write_later(world, index, world_wait(world, "sign", MINUTE_MS, 30 * MINUTE_MS),
                    SAYS_WARNING);
        write_later(world, index, world_wait(world, "start", 31 * MINUTE_MS, 2 * HOUR_MS),
                    SAYS_START);
    } else if (strcmp(sent->kind, "stopped") == 0 && world_chance(world, "start", 60)) {
        write_later(world, index, world_wait(world, "start", HOUR_MS, 4 * DAY_MS), SAYS_START);
    }
}

/* --- unasked --- */

/* At any hour of day or night somebody writes something. */
static void out_of_the_blue(World *world, int index, void *data)
{
    WorldPerson *person = world->people->pdata[index];

    (void)data;
    if (world_is_calm(world)) return;
    if (person->id != NULL && strcmp(person->channel, "sms") == 0)
        write_later(world, index, 0,
                    world_chance(world, "odd", 70) ? SAYS_ODD : draw_answer(world));
    world_later(world, world_wait(world, "blue", 2 * HOUR_MS, 6 * DAY_MS), out_of_the_blue, index,
                NULL);
}

static void a_stranger_writes(World *world, int index, void *data)
{
    static const Says SAID[] = {SAYS_ODD, SAYS_ODD, SAYS_DONE, SAYS_STOP, SAYS_WARNING};
    Says says = SAID[random_below(world->random, "stranger", G_N_ELEMENTS(SAID))];
    g_autofree char *from =
        g_strdup_printf("+4477009009%02d", (int)random_below(world->random, "number", 40));

    (void)data;
    if (world_is_calm(world)) return;
    world_say(world, from, phrase_draw(world->random, says)->text, WAY_ANY);
    world_later(world, world_wait(world, "stranger", HOUR_MS, 5 * DAY_MS), a_stranger_writes, index,
                NULL);
}

static void join(World *world, int index, void *data)
{
    (void)data;
    world_add(world, index);
}

static const char *draw_zone(World *world)
{
    static const char *const ZONES[] = {
        "Europe/London",       "Europe/London",    "Europe/London",       "America/New_York",
        "Australia/Lord_Howe", "Pacific/Auckland", "America/St_Johns",    "Africa/Casablanca",
        "Europe/Dublin",       "Asia/Kathmandu",   "Australia/Melbourne", "America/Los_Angeles",
    };

    return ZONES[random_below(world->random, "zone", G_N_ELEMENTS(ZONES))];
}

void world_clients_fill(World *world, int people)
{
    static const char *const NAMES[] = {
        "Maribel",  "Thaddeus",  "Wilhelmina", "Octavia",   "Barnaby",   "Henrietta", "Leopold",
        "Philippa", "Cornelius", "Rosalind",   "Ferdinand", "Gwendolyn", "Archibald", "Clementine"};

    for (int i = 0; i < people; i++) {
        WorldPerson *person = g_new0(WorldPerson, 1);
        int number = i == 1 && people > 5 ? 0 : i; /* the first two share a phone */
        person->name = g_strdup_printf("%s Quenneville", NAMES[(size_t)i % G_N_ELEMENTS(NAMES)]);
        person->phone = g_strdup_printf("+4477009000%02d", number);
        person->email = g_strdup_printf("client%d@home.example", i);
        person->channel = i == 2 ? "email" : i == 3 ? "phone" : "sms";
        person->zone = g_strdup(draw_zone(world));
        person->answers_percent = 30 + (int)random_below(world->random, "temper", 68);
        g_ptr_array_add(world->people, person);
        world_later(world, world_wait(world, "join", HOUR_MS, 2 * DAY_MS), join, i, NULL);
        world_later(world, world_wait(world, "blue", 3 * DAY_MS, 9 * DAY_MS), out_of_the_blue, i,
                    NULL);
    }
    world_later(world, DAY_MS, a_stranger_writes, -1, NULL);
}
