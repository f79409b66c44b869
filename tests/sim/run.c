/* SPDX-License-Identifier: Apache-2.0 */
#include "tests/sim/run.h"

#include <string.h>

#include "core/calendar/date.h"
#include "tests/sim/world.h"

#define CALM_DAYS 4

typedef struct {
    SimClinic *clinic;
    Oracle *oracle;
    World *world;
    int storm;        /* 0: calm to 3: rough */
    unsigned without; /* of RunFault */
    int64_t end_ms;
    bool down; /* the daemon is off, until something starts it */
} Run;

static const struct {
    const char *name;
    RunFault fault;
} FAULTS[] = {{"weather", FAULT_WEATHER}, {"away", FAULT_AWAY}, {"refusals", FAULT_REFUSALS},
              {"cuts", FAULT_CUTS},       {"full", FAULT_FULL}, {"clock", FAULT_CLOCK},
              {"lost", FAULT_LOST}};

unsigned run_fault_named(const char *name)
{
    for (size_t i = 0; i < G_N_ELEMENTS(FAULTS); i++)
        if (strcmp(FAULTS[i].name, name) == 0) return FAULTS[i].fault;
    return 0;
}

char *run_fault_names(unsigned faults)
{
    GString *names = g_string_new(NULL);

    for (size_t i = 0; i < G_N_ELEMENTS(FAULTS); i++)
        if ((faults & FAULTS[i].fault) != 0)
            g_string_append_printf(names, "%s%s", names->len > 0 ? "," : "", FAULTS[i].name);
    return g_string_free(names, FALSE);
}

static bool has(const Run *run, RunFault fault)
{
    return run->storm > 0 && (run->without & fault) == 0;
}

/* Springs and autumns, so that clocks change on the way. */
static int64_t draw_start(Random *random)
{
    static const char *const STARTS[] = {"2026-03-02T06:00:00Z", "2026-03-20T13:37:00Z",
                                         "2026-10-12T05:00:00Z", "2026-09-21T09:15:00Z",
                                         "2026-06-29T07:00:00Z", "2026-12-14T06:30:00Z"};
    int64_t ms = 0;

    instant_parse(STARTS[random_below(random, "start", G_N_ELEMENTS(STARTS))], &ms);
    return ms;
}

static bool is_rough(const Run *run)
{
    return run->storm > 0 && !world_is_calm(run->world);
}

/* --- faults --- */

static void come_back(World *world, int person, void *data)
{
    Run *run = *(Run **)data;

    (void)world;
    (void)person;
    run->down = false;
    if (run->clinic->daemon == NULL) sim_start(run->clinic);
}

static void come_back_later(Run *run, int64_t wait_ms)
{
    Run **kept = g_new(Run *, 1);

    *kept = run;
    run->down = true;
    world_later(run->world, wait_ms, come_back, -1, kept);
}

static void cut(Run *run)
{
    Cut how = world_chance(run->world, "cut", 50) ? CUT_BEFORE : CUT_AFTER;
    bool sent = world_chance(run->world, "sent", 50);

    sim_cut(run->clinic, how, sent);
    come_back_later(run, world_wait(run->world, "dark", 1000, 10 * MINUTE_MS));
}

/* Between two turns of the loop the power may go, or the disk fill up, or the database go away in the midst of a job. */
static void strike(SimClinic *clinic, void *context)
{
    Run *run = context;

    if (!is_rough(run) || clinic->daemon == NULL) return;
    uint64_t draw = random_below(run->world->random, "strike", 20000);
    if (draw < (uint64_t)run->storm * 3 && has(run, FAULT_CUTS))
        cut(run);
    else if (draw >= (uint64_t)run->storm * 3 && draw < (uint64_t)run->storm * 6 &&
             has(run, FAULT_FULL))
        device_fill(clinic->device, 1 + (int)random_below(run->world->random, "full", 20));
    else if (draw >= (uint64_t)run->storm * 6 && draw < (uint64_t)run->storm * 18 &&
             has(run, FAULT_LOST))
        device_lose(clinic->device, 1 + (int)random_below(run->world->random, "lost", 120));
}

static void clear_up(World *world, int person, void *data)
{
    Run *run = *(Run **)data;

    (void)person;
    standin_set_weather(run->clinic->standin, WEATHER_CLEAR);
    (void)world;
}

static void turn_weather(World *world, int person, void *data)
{
    Run *run = *(Run **)data;
    Run **kept = g_new(Run *, 2);

    if (world_is_calm(world)) {
        g_free(kept);
        standin_set_weather(run->clinic->standin, WEATHER_CLEAR);
        standin_set_strays(run->clinic->standin, 0);
        return;
    }
    kept[0] = run;
    standin_set_weather(run->clinic->standin,
                        (Weather)(1 + random_below(world->random, "weather", WEATHER_COUNT - 1)));
    world_later(world, world_wait(world, "spell", MINUTE_MS, 5 * HOUR_MS), clear_up, person, kept);
    Run **next = g_new(Run *, 1);
    *next = run;
    world_later(world, world_wait(world, "between", 6 * HOUR_MS, 4 * DAY_MS), turn_weather, person,
                next);
}

static void take_again(World *world, int person, void *data)
{
    WorldPerson *client = world->people->pdata[person];

    (void)data;
    standin_refuse(world->clinic->standin, client->phone, false);
}

static void refuse_one(World *world, int person, void *data)
{
    int who = (int)random_below(world->random, "refused", world->people->len);
    WorldPerson *client = world->people->pdata[who];

    (void)data;
    if (world_is_calm(world)) return;
    standin_refuse(world->clinic->standin, client->phone, true);
    world_later(world, world_wait(world, "refusal", HOUR_MS, 2 * DAY_MS), take_again, who, NULL);
    world_later(world, world_wait(world, "next refusal", DAY_MS, 9 * DAY_MS), refuse_one, person,
                NULL);
}

/* Laptops travel: the daemon is off for hours or days. */
static void go_away(World *world, int person, void *data)
{
    Run *run = *(Run **)data;
    Run **next = g_new(Run *, 1);
    bool days = world_chance(world, "days", 30);

    *next = run;
    if (world_is_calm(world)) {
        g_free(next);
        return;
    }
    if (!run->down) {
        sim_stop(run->clinic);
        come_back_later(run, days ? world_wait(world, "days off", DAY_MS, 4 * DAY_MS)
                                  : world_wait(world, "hours off", HOUR_MS, 10 * HOUR_MS));
    }
    world_later(world, world_wait(world, "at home", 2 * DAY_MS, 9 * DAY_MS), go_away, person, next);
}

/* Somebody sets the clock right, or wrong: by minutes or days forward, by up to three hours back, for which osier is begun again. */
static void set_clock(World *world, int person, void *data)
{
    Run *run = *(Run **)data;
    Run **next = g_new(Run *, 1);
    bool back = world_chance(world, "set back", 50);
    bool far = world_chance(world, "set far", 20);

    *next = run;
    if (world_is_calm(world)) {
        g_free(next);
        return;
    }
    int64_t by = world_wait(world, "set by", MINUTE_MS, !back && far ? 2 * DAY_MS : 3 * HOUR_MS);
    if (back && !run->down) sim_stop(run->clinic);
    sim_set_clock(run->clinic, sim_now(run->clinic) + (back ? -by : by));
    if (back && !run->down) sim_start(run->clinic);
    world_later(world, world_wait(world, "right", 3 * DAY_MS, 12 * DAY_MS), set_clock, person,
                next);
}

static void brew(Run *run)
{
    static const RunFault OF[] = {FAULT_WEATHER, FAULT_AWAY, FAULT_CLOCK};
    WorldAct *const acts[] = {turn_weather, go_away, set_clock};

    if (has(run, FAULT_WEATHER)) standin_set_strays(run->clinic->standin, 8 * run->storm);
    for (size_t i = 0; i < G_N_ELEMENTS(acts); i++) {
        if (!has(run, OF[i])) continue;
        Run **kept = g_new(Run *, 1);
        *kept = run;
        world_later(run->world, world_wait(run->world, "brew", DAY_MS, 5 * DAY_MS), acts[i], -1,
                    kept);
    }
    if (has(run, FAULT_REFUSALS)) world_later(run->world, 3 * DAY_MS, refuse_one, -1, NULL);
}

/* --- the run --- */

static void live(Run *run)
{
    int64_t day = sim_now(run->clinic);

    while (sim_now(run->clinic) < run->end_ms && !trace_broken(run->clinic->trace)) {
        int64_t next = MIN(world_next(run->world), run->end_ms);
        sim_to(run->clinic, MAX(next, sim_now(run->clinic)));
        /* Slow exchanges may have carried the clock past it. */
        world_act(run->world);
        sim_settle(run->clinic);
        if (sim_now(run->clinic) < day + DAY_MS) continue;
        day = sim_now(run->clinic);
        oracle_compare(run->oracle);
    }
}

bool run_seed(uint64_t seed, const RunShape *shape, RunTally *tally)
{
    Random *random = random_seeded_new(seed * 31 + 7);
    bool takes_key = random_below(random, "key", 2) == 0;
    int span = shape->days > 0 ? shape->days : 20 + (int)random_below(random, "span", 21);
    SimSetup setup = {.seed = seed,
                      .start_ms = draw_start(random),
                      .takes_key = takes_key,
                      .far = random_below(random, "far", 2) == 0,
                      .poll_every = random_below(random, "poll", 2) == 0 ? "5min" : "20min"};
    Run run = {.storm = MIN((int)random_below(random, "storm", 4), shape->storm),
               .without = shape->without};
    int people = 6 + (int)random_below(random, "people", 8);

    run.clinic = sim_clinic_new(&setup);
    trace_set_loud(run.clinic->trace, shape->loud);
    trace_set_quiet(run.clinic->trace, shape->quiet);
    trace_note(run.clinic->trace, "storm %d, %s key", run.storm, takes_key ? "a" : "no");
    run.oracle = oracle_new(run.clinic, takes_key);
    run.world = world_new(run.clinic, run.oracle);
    run.end_ms = setup.start_ms + span * DAY_MS;
    run.clinic->turn = strike;
    run.clinic->turn_context = &run;
    run.world->hush_ms = run.end_ms - 6 * HOUR_MS;
    world_fill(run.world, shape->people > 0 ? MIN(people, shape->people) : people,
               run.end_ms - CALM_DAYS * DAY_MS);
    if (run.storm > 0) brew(&run);
    sim_start(run.clinic);
    live(&run);
    if (!trace_broken(run.clinic->trace)) oracle_end(run.oracle);

    const Model *model = oracle_model(run.oracle);
    *tally = (RunTally){.days = span,
                        .steps = (int)trace_steps(run.clinic->trace),
                        .lives = run.clinic->lives,
                        .messages = (int)g_hash_table_size(model->messages),
                        .replies = (int)g_hash_table_size(model->replies),
                        .alerts = (int)g_hash_table_size(model->alerts),
                        .events = (int)model->seq};
    bool held = !trace_broken(run.clinic->trace);
    if (!held) g_strlcpy(tally->rule, trace_rule(run.clinic->trace), sizeof tally->rule);
    run.clinic->turn = NULL;
    sim_cut(run.clinic, CUT_BEFORE, false);
    oracle_free(run.oracle);
    world_free(run.world);
    sim_clinic_free(run.clinic);
    random_free(random);
    return held;
}
