/* SPDX-License-Identifier: Apache-2.0 */
#include "core/practice/programme_parts.h"

static const char *const KEYS[] = {
    "key",     "title",    "language", "purpose", "beside", "sources", "cautions",  "findings",
    "set-ups", "measures", "check-in", "start",   "stages", "ending",  "step-back", NULL};

static void setup_free(gpointer item)
{
    Setup *setup = item;

    g_clear_pointer(&setup->not_for, g_ptr_array_unref);
    g_free(setup);
}

static void finding_free(gpointer item)
{
    Finding *finding = item;

    g_clear_pointer(&finding->words, g_ptr_array_unref);
    g_free(finding);
}

static void measure_free(gpointer item)
{
    Measure *measure = item;

    g_clear_pointer(&measure->methods, g_ptr_array_unref);
    g_free(measure);
}

static void start_row_free(gpointer item)
{
    StartRow *row = item;

    g_clear_pointer(&row->felt, g_ptr_array_unref);
    g_free(row);
}

static void stage_item_free(gpointer item)
{
    stage_free(item);
}

/* The sources are checked for themselves: each short name stands for a full reference. */
static json_t *read_sources(Reader *reader, json_t *tree)
{
    json_t *sources = reader_object(reader, "", tree, "sources", false);
    const char *name;
    json_t *value;

    json_object_foreach(sources, name, value)
    {
        g_autofree char *pointer = fault_pointer("/sources", name);
        if (!json_is_string(value) || json_string_length(value) < 12)
            fault_add(reader->faults, pointer, json_string_value(value),
                      "must be a full reference: who, where, which year");
    }
    return sources;
}

static void read_ending(Reader *reader, json_t *tree, Programme *programme)
{
    static const char *const ENDING[] = {"review-weeks", "goodbye", "void-after-days-off", "source",
                                         NULL};
    json_t *ending = reader_object(reader, "", tree, "ending", true);

    if (ending == NULL) return;
    fault_unknown_keys(reader->faults, "/ending", ending, ENDING);
    programme->review_weeks = reader_whole(reader, "/ending", ending, "review-weeks", 1, 52);
    programme->void_days_off =
        reader_whole(reader, "/ending", ending, "void-after-days-off", 3, 60);
    programme->goodbye = reader_text(reader, "/ending", ending, "goodbye", true);
    if (programme->goodbye != NULL && strstr(programme->goodbye, "{phone}") == NULL)
        fault_add(reader->faults, "/ending/goodbye", programme->goodbye,
                  "must say whom to ring: put {phone} where the clinic's number goes");
    reader_source(reader, "/ending", ending);
}

static Programme *programme_new(json_t *tree)
{
    Programme *programme = g_new0(Programme, 1);

    programme->tree = json_incref(tree);
    programme->stages = g_ptr_array_new_with_free_func(stage_item_free);
    programme->setups = g_ptr_array_new_with_free_func(setup_free);
    programme->findings = g_ptr_array_new_with_free_func(finding_free);
    programme->measures = g_ptr_array_new_with_free_func(measure_free);
    programme->check_in = g_ptr_array_new_with_free_func(g_free);
    programme->start.rows = g_ptr_array_new_with_free_func(start_row_free);
    return programme;
}

Programme *programme_read(json_t *tree, Faults *faults)
{
    guint before = faults->items->len;

    if (!json_is_object(tree)) {
        fault_add(faults, "", "this file",
                  "is no programme: a table beginning with `key:` and `title:` is needed");
        return NULL;
    }
    Reader reader = {.faults = faults};
    g_autoptr(Programme) programme = programme_new(tree);
    fault_unknown_keys(faults, "", tree, KEYS);
    programme->key = reader_key(&reader, "", tree, "key", true);
    programme->title = reader_text(&reader, "", tree, "title", true);
    programme->language = reader_text(&reader, "", tree, "language", true);
    programme->purpose = reader_text(&reader, "", tree, "purpose", true);
    programme->beside = reader_text(&reader, "", tree, "beside", true);
    programme->cautions = reader_texts(&reader, "", tree, "cautions", true);
    reader.sources = read_sources(&reader, tree);
    findings_read(&reader, tree, programme);
    setups_read(&reader, tree, programme);
    measures_read(&reader, tree, programme);
    check_in_read(&reader, tree, programme);
    back_read(&reader, "", tree, &programme->back);
    stages_read(&reader, tree, programme);
    start_read(&reader, tree, programme);
    transitions_check(&reader, tree, programme);
    read_ending(&reader, tree, programme);
    return faults->items->len == before ? g_steal_pointer(&programme) : NULL;
}

void programme_free(Programme *programme)
{
    if (programme == NULL) return;
    g_clear_pointer(&programme->cautions, g_ptr_array_unref);
    g_ptr_array_unref(programme->stages);
    g_ptr_array_unref(programme->setups);
    g_ptr_array_unref(programme->findings);
    g_ptr_array_unref(programme->measures);
    g_ptr_array_unref(programme->check_in);
    g_ptr_array_unref(programme->start.rows);
    json_decref(programme->tree);
    g_free(programme);
}

const Stage *programme_stage(const Programme *programme, const char *key)
{
    for (guint i = 0; key != NULL && i < programme->stages->len; i++) {
        const Stage *stage = g_ptr_array_index(programme->stages, i);
        if (g_strcmp0(stage->key, key) == 0) return stage;
    }
    return NULL;
}

const Setup *programme_setup(const Programme *programme, const char *key)
{
    for (guint i = 0; key != NULL && i < programme->setups->len; i++) {
        const Setup *setup = g_ptr_array_index(programme->setups, i);
        if (g_strcmp0(setup->key, key) == 0) return setup;
    }
    return NULL;
}

const Measure *programme_measure(const Programme *programme, const char *key)
{
    for (guint i = 0; key != NULL && i < programme->measures->len; i++) {
        const Measure *measure = g_ptr_array_index(programme->measures, i);
        if (g_strcmp0(measure->key, key) == 0) return measure;
    }
    return NULL;
}

const Method *measure_method(const Measure *measure, const char *key)
{
    for (guint i = 0; key != NULL && i < measure->methods->len; i++) {
        const Method *method = g_ptr_array_index(measure->methods, i);
        if (g_strcmp0(method->key, key) == 0) return method;
    }
    return NULL;
}

int programme_stages(const Programme *programme)
{
    return (int)programme->stages->len;
}

const Stage *programme_stage_at(const Programme *programme, int at)
{
    g_assert(at >= 0 && at < programme_stages(programme));
    return g_ptr_array_index(programme->stages, (guint)at);
}

const char *stage_rule(const Stage *stage)
{
    static const char *const RULES[] = {[1] = "FREQ=WEEKLY;BYDAY=MO",
                                        [2] = "FREQ=WEEKLY;BYDAY=MO,TH",
                                        [3] = "FREQ=WEEKLY;BYDAY=MO,WE,FR",
                                        [4] = "FREQ=WEEKLY;BYDAY=MO,TU,TH,FR"};
    size_t days = (size_t)MAX(stage->days_a_week, 0);

    return days < G_N_ELEMENTS(RULES) ? RULES[days] : NULL;
}

bool stage_is_later(const Programme *programme, const Stage *stage, const Stage *than)
{
    for (int i = 0; i < programme_stages(programme); i++) {
        const Stage *at = programme_stage_at(programme, i);
        if (at == stage) return false;
        if (at == than) return true;
    }
    g_assert_not_reached();
}

const Stage *stage_next(const Programme *programme, const Stage *stage)
{
    return programme_stage(programme, stage->next_key);
}

const Stage *stage_back(const Programme *programme, const Stage *stage)
{
    return programme_stage(programme, stage->back_key);
}
