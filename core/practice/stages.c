/* SPDX-License-Identifier: Apache-2.0 */
/* Stages, their movements and doses, and the way through them. */
#include "core/practice/programme_parts.h"

static const char *const WORKS[] = {"active", "static", "skill", NULL};
static const char *const LEGS[] = {"not told", "resting", "raised", NULL};
static const char *const SIDES[] = {"both together", "each", NULL};

/* A session longer than this is no home session. */
#define MOVEMENT_SECONDS_MAX 3600

static void movement_free(gpointer item)
{
    Movement *movement = item;

    g_clear_pointer(&movement->cues, g_ptr_array_unref);
    g_clear_pointer(&movement->avoid, g_ptr_array_unref);
    g_clear_pointer(&movement->setups, g_ptr_array_unref);
    g_free(movement);
}

void stage_free(Stage *stage)
{
    g_clear_pointer(&stage->movements, g_ptr_array_unref);
    g_clear_pointer(&stage->not_for, g_ptr_array_unref);
    g_clear_pointer(&stage->exit.felt_not, g_ptr_array_unref);
    g_free(stage);
}

static void check_dose(Reader *reader, const char *at, json_t *object, const Dose *dose)
{
    double seconds =
        dose->sets * dose->repetitions.to * dose->hold_s.to * (dose->each_side ? 2 : 1);

    if (dose->work == WORK_ACTIVE && dose->hold_s.to > 5)
        reader_fault(
            reader, at, object, "hold-s",
            "is no active dose: held for more than 5 s, say `work: static`, or hold 1-2 s");
    if (dose->work == WORK_STATIC && dose->hold_s.from < 5)
        reader_fault(reader, at, object, "hold-s",
                     "is no static dose: held for less than 5 s, say `work: active`");
    if (seconds > MOVEMENT_SECONDS_MAX)
        reader_fault(reader, at, object, "repetitions",
                     "is impossible: %.0f s for one movement, more than an hour", seconds);
}

static void read_dose(Reader *reader, const char *above, json_t *movement, Dose *dose)
{
    static const char *const KEYS[] = {"work",   "sides",  "sets",   "repetitions",
                                       "hold-s", "rest-s", "source", NULL};
    json_t *object = reader_object(reader, above, movement, "dose", true);

    if (object == NULL) return;
    g_autofree char *at = fault_pointer(above, "dose");
    guint before = reader->faults->items->len;
    fault_unknown_keys(reader->faults, at, object, KEYS);
    int work = reader_choice(reader, at, object, "work", WORKS, -1);
    dose->work = work < 0 ? WORK_SKILL : (Work)work;
    dose->each_side = reader_choice(reader, at, object, "sides", SIDES, -1) == 1;
    dose->sets = reader_whole(reader, at, object, "sets", 1, 10);
    dose->repetitions = reader_range(reader, at, object, "repetitions", 1, 100, true);
    dose->hold_s = reader_range(reader, at, object, "hold-s", 0, 300, true);
    dose->rest_s = reader_range(reader, at, object, "rest-s", 0, 600, dose->sets > 1);
    reader_source(reader, at, object);
    if (reader->faults->items->len == before) check_dose(reader, at, object, dose);
}

static void read_relaxed(Reader *reader, const char *above, json_t *movement, Relaxed *relaxed)
{
    static const char *const KEYS[] = {"minutes", "intensity", "source", NULL};
    json_t *object = reader_object(reader, above, movement, "relaxed-hold", false);

    if (object == NULL) return;
    g_autofree char *at = fault_pointer(above, "relaxed-hold");
    fault_unknown_keys(reader->faults, at, object, KEYS);
    relaxed->minutes = reader_range(reader, at, object, "minutes", 0.5, 15, true);
    relaxed->intensity = reader_range(reader, at, object, "intensity", 0, 10, true);
    if (relaxed->intensity.to > 6)
        reader_fault(reader, at, object, "intensity",
                     "is not relaxed: a hold above 6 out of 10 is not held for minutes");
    reader_source(reader, at, object);
}

static void read_movement_setups(Reader *reader, const char *at, json_t *object,
                                 const Programme *programme, Movement *movement)
{
    g_autoptr(GPtrArray) keys = reader_texts(reader, at, object, "set-ups", false);

    movement->setups = g_ptr_array_new();
    for (guint i = 0; keys != NULL && i < keys->len; i++) {
        const char *key = g_ptr_array_index(keys, i);
        const Setup *setup = programme_setup(programme, key);
        if (setup != NULL) {
            g_ptr_array_add(movement->setups, (gpointer)setup);
            continue;
        }
        g_autofree char *list = fault_pointer(at, "set-ups");
        g_autofree char *item = fault_pointer_item(list, i);
        fault_add(reader->faults, json_is_array(json_object_get(object, "set-ups")) ? item : list,
                  key, "is not listed under `set-ups:`");
    }
}

void movement_read(Reader *reader, const char *at, json_t *object, const Programme *programme,
                   Stage *stage)
{
    static const char *const KEYS[] = {"key",  "title",   "muscle",       "position", "getting-in",
                                       "do",   "cues",    "feel",         "avoid",    "getting-out",
                                       "dose", "set-ups", "relaxed-hold", "leg",      NULL};
    Movement *movement = g_new0(Movement, 1);

    g_ptr_array_add(stage->movements, movement);
    fault_unknown_keys(reader->faults, at, object, KEYS);
    movement->key = reader_key(reader, at, object, "key", true);
    movement->title = reader_text(reader, at, object, "title", true);
    movement->muscle = reader_text(reader, at, object, "muscle", true);
    movement->position = reader_text(reader, at, object, "position", true);
    movement->getting_in = reader_text(reader, at, object, "getting-in", true);
    movement->doing = reader_text(reader, at, object, "do", true);
    movement->getting_out = reader_text(reader, at, object, "getting-out", true);
    movement->cues = reader_texts(reader, at, object, "cues", true);
    movement->feel = reader_text(reader, at, object, "feel", true);
    movement->avoid = reader_texts(reader, at, object, "avoid", true);
    read_movement_setups(reader, at, object, programme, movement);
    read_dose(reader, at, object, &movement->dose);
    read_relaxed(reader, at, object, &movement->relaxed);
    int leg = reader_choice(reader, at, object, "leg", LEGS, 0);
    movement->leg_rests = leg == 1;
    movement->leg_raised = leg == 2;
}

static void read_how_often(Reader *reader, const char *above, json_t *object, Stage *stage)
{
    static const char *const KEYS[] = {"sessions-a-day", "days-a-week", "source", NULL};
    json_t *often = reader_object(reader, above, object, "how-often", true);

    if (often == NULL) return;
    g_autofree char *at = fault_pointer(above, "how-often");
    fault_unknown_keys(reader->faults, at, often, KEYS);
    stage->sessions_a_day = reader_whole(reader, at, often, "sessions-a-day", 1, 6);
    stage->days_a_week = reader_whole(reader, at, often, "days-a-week", 1, 7);
    reader_source(reader, at, often);
}

static void read_movements(Reader *reader, const char *above, json_t *object,
                           const Programme *programme, Stage *stage)
{
    json_t *list = reader_list(reader, above, object, "movements", true);
    g_autofree char *at = fault_pointer(above, "movements");

    if (json_array_size(list) > STAGE_MOVEMENTS_MAX)
        fault_add(reader->faults, at, "movements", "has too many movements: at most %d",
                  STAGE_MOVEMENTS_MAX);
    for (size_t i = 0; i < json_array_size(list) && i < STAGE_MOVEMENTS_MAX; i++) {
        g_autofree char *item = fault_pointer_item(at, i);
        json_t *movement = json_array_get(list, i);
        if (json_is_object(movement))
            movement_read(reader, item, movement, programme, stage);
        else
            fault_add(reader->faults, item, "this item",
                      "is no movement: a table with `key:`, `title:` and so on");
    }
}

static void read_stage(Reader *reader, const char *at, json_t *object, Programme *programme)
{
    static const char *const KEYS[] = {"key",       "title", "aim",       "how-often",
                                       "movements", "exit",  "step-back", "not-for",
                                       "next",      "back",  NULL};
    Stage *stage = g_new0(Stage, 1);

    stage->movements = g_ptr_array_new_with_free_func(movement_free);
    fault_unknown_keys(reader->faults, at, object, KEYS);
    stage->key = reader_key(reader, at, object, "key", true);
    if (stage->key != NULL && programme_stage(programme, stage->key) != NULL) {
        g_autofree char *pointer = fault_pointer(at, "key");
        fault_add(reader->faults, pointer, stage->key, "is the key of an earlier stage");
    }
    g_ptr_array_add(programme->stages, stage);
    stage->title = reader_text(reader, at, object, "title", true);
    stage->aim = reader_text(reader, at, object, "aim", true);
    read_how_often(reader, at, object, stage);
    read_movements(reader, at, object, programme, stage);
    stage->not_for = not_for_read(reader, at, object, programme);
    stage->next_key = reader_text(reader, at, object, "next", true);
    stage->back_key = reader_text(reader, at, object, "back", false);
    bool last = g_strcmp0(stage->next_key, "end") == 0;
    if (last) stage->next_key = NULL;
    if (!last || json_object_get(object, "exit") != NULL)
        exit_read(reader, at, object, programme, &stage->exit);
    stage->back = programme->back;
    if (json_object_get(object, "step-back") != NULL) back_read(reader, at, object, &stage->back);
}

void stages_read(Reader *reader, json_t *tree, Programme *programme)
{
    json_t *list = reader_list(reader, "", tree, "stages", true);

    if (json_array_size(list) > PROGRAMME_STAGES_MAX)
        fault_add(reader->faults, "/stages", "stages", "has too many stages: at most %d",
                  PROGRAMME_STAGES_MAX);
    for (size_t i = 0; i < json_array_size(list) && i < PROGRAMME_STAGES_MAX; i++) {
        g_autofree char *at = fault_pointer_item("/stages", i);
        json_t *stage = json_array_get(list, i);
        if (json_is_object(stage))
            read_stage(reader, at, stage, programme);
        else
            fault_add(reader->faults, at, "this item",
                      "is no stage: a table with `key:`, `title:` and so on");
    }
}
