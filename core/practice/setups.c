/* SPDX-License-Identifier: Apache-2.0 */
/* Findings of the screen, set-ups and who may not use them, and where to begin. */
#include "core/practice/programme_parts.h"

static const char *const PLACES[] = {"floor", "bed", "chair", "standing", NULL};
static const char *const GEOMETRIES[] = {"none", "door", "ball", "heel", NULL};
static const char *const AIDS[] = {"none", "strap", NULL};
static const char *const FELT[] = {"calf", "knee", "thigh", "sit-bone", "electric", NULL};

/* A table of named tables, each handed to read with its place. */
typedef void (*EntryRead)(Reader *reader, const char *at, const char *key, json_t *object,
                          Programme *programme);

static void read_entries(Reader *reader, json_t *tree, const char *section, bool required,
                         Programme *programme, EntryRead read)
{
    json_t *table = reader_object(reader, "", tree, section, required);
    g_autofree char *base = fault_pointer("", section);
    const char *key;
    json_t *entry;

    json_object_foreach(table, key, entry)
    {
        g_autofree char *at = fault_pointer(base, key);
        if (json_is_object(entry))
            read(reader, at, key, entry, programme);
        else
            fault_add(reader->faults, at, key, "must be a table of `name: value` lines");
    }
}

static void read_finding(Reader *reader, const char *at, const char *key, json_t *object,
                         Programme *programme)
{
    static const char *const KEYS[] = {"ask", "words", "then", "because", NULL};
    static const char *const THEN[] = {"caution", "clinician", NULL};
    Finding *finding = g_new0(Finding, 1);

    g_ptr_array_add(programme->findings, finding);
    fault_unknown_keys(reader->faults, at, object, KEYS);
    finding->key = key;
    finding->ask = reader_text(reader, at, object, "ask", true);
    finding->words = reader_texts(reader, at, object, "words", true);
    finding->clinician = reader_choice(reader, at, object, "then", THEN, -1) != 0;
    finding->because = reader_text(reader, at, object, "because", true);
}

void findings_read(Reader *reader, json_t *tree, Programme *programme)
{
    read_entries(reader, tree, "findings", true, programme, read_finding);
}

static bool finding_known(const Programme *programme, const char *key)
{
    if (strcmp(key, FINDING_NO_FLOOR) == 0) return true;
    for (guint i = 0; i < programme->findings->len; i++)
        if (strcmp(((const Finding *)g_ptr_array_index(programme->findings, i))->key, key) == 0)
            return true;
    return false;
}

GPtrArray *not_for_read(Reader *reader, const char *at, json_t *object, const Programme *programme)
{
    GPtrArray *keys = reader_texts(reader, at, object, "not-for", false);
    g_autofree char *list = fault_pointer(at, "not-for");

    for (guint i = 0; keys != NULL && i < keys->len; i++) {
        const char *key = g_ptr_array_index(keys, i);
        g_autofree char *item = fault_pointer_item(list, i);
        if (!finding_known(programme, key))
            fault_add(reader->faults,
                      json_is_array(json_object_get(object, "not-for")) ? item : list, key,
                      "is not listed under `findings:`");
    }
    return keys;
}

static void read_geometry(Reader *reader, const char *above, json_t *object, Setup *setup)
{
    static const char *const KEYS[] = {"kind", "margin-deg", "reach-cm", "hip-cm", "source", NULL};
    json_t *geometry = reader_object(reader, above, object, "geometry", false);

    if (geometry == NULL) return;
    g_autofree char *at = fault_pointer(above, "geometry");
    fault_unknown_keys(reader->faults, at, geometry, KEYS);
    int kind = reader_choice(reader, at, geometry, "kind", GEOMETRIES, -1);
    setup->geometry = kind < 0 ? GEOMETRY_NONE : (GeometryKind)kind;
    if (setup->geometry == GEOMETRY_NONE) return;
    setup->margin_deg = reader_number(reader, at, geometry, "margin-deg", 0, 30);
    setup->reach = reader_range(reader, at, geometry, "reach-cm", 0, 120, true);
    if (setup->geometry == GEOMETRY_BALL)
        setup->hip_cm = reader_number(reader, at, geometry, "hip-cm", 0, 40);
    reader_source(reader, at, geometry);
}

static void read_setup(Reader *reader, const char *at, const char *key, json_t *object,
                       Programme *programme)
{
    static const char *const KEYS[] = {"title",   "place",    "how", "caution",
                                       "not-for", "geometry", "aid", NULL};
    Setup *setup = g_new0(Setup, 1);

    g_ptr_array_add(programme->setups, setup);
    fault_unknown_keys(reader->faults, at, object, KEYS);
    setup->key = key;
    setup->title = reader_text(reader, at, object, "title", true);
    int place = reader_choice(reader, at, object, "place", PLACES, -1);
    setup->place = place < 0 ? PLACE_FLOOR : (Place)place;
    setup->how = reader_text(reader, at, object, "how", true);
    setup->caution = reader_text(reader, at, object, "caution", true);
    setup->not_for = not_for_read(reader, at, object, programme);
    setup->strap = reader_choice(reader, at, object, "aid", AIDS, 0) == 1;
    read_geometry(reader, at, object, setup);
}

void setups_read(Reader *reader, json_t *tree, Programme *programme)
{
    read_entries(reader, tree, "set-ups", false, programme, read_setup);
}

/* A stage or set-up named in the start section. */
static void check_stage(Reader *reader, const char *above, const char *field, const char *key,
                        const Programme *programme)
{
    if (key == NULL || programme_stage(programme, key) != NULL) return;
    g_autofree char *at = fault_pointer(above, field);
    fault_add(reader->faults, at, key, "is no stage of this programme");
}

static void check_felt(Reader *reader, const char *above, const GPtrArray *felt)
{
    g_autofree char *at = fault_pointer(above, "felt");

    for (guint i = 0; felt != NULL && i < felt->len; i++) {
        const char *place = g_ptr_array_index(felt, i);
        if (!g_strv_contains(FELT, place))
            fault_add(reader->faults, at, place,
                      "must be one of: calf, knee, thigh, sit-bone, electric");
    }
}

static bool stage_has_setup(const Stage *stage, const char *key)
{
    for (guint i = 0; stage != NULL && i < stage->movements->len; i++) {
        const Movement *movement = g_ptr_array_index(stage->movements, i);
        for (guint k = 0; k < movement->setups->len; k++)
            if (strcmp(((const Setup *)g_ptr_array_index(movement->setups, k))->key, key) == 0)
                return true;
    }
    return stage == NULL;
}

static void read_row(Reader *reader, const char *at, json_t *object, Programme *programme)
{
    static const char *const KEYS[] = {"below-deg", "felt", "stage", "set-up", NULL};
    StartRow *row = g_new0(StartRow, 1);

    g_ptr_array_add(programme->start.rows, row);
    fault_unknown_keys(reader->faults, at, object, KEYS);
    row->below_deg = INFINITY;
    if (json_object_get(object, "below-deg") != NULL)
        row->below_deg = reader_number(reader, at, object, "below-deg", 1, 180);
    row->felt = reader_texts(reader, at, object, "felt", false);
    check_felt(reader, at, row->felt);
    row->stage = reader_text(reader, at, object, "stage", true);
    check_stage(reader, at, "stage", row->stage, programme);
    row->setup = reader_text(reader, at, object, "set-up", false);
    if (row->setup != NULL && programme_setup(programme, row->setup) == NULL) {
        g_autofree char *pointer = fault_pointer(at, "set-up");
        fault_add(reader->faults, pointer, row->setup, "is not listed under `set-ups:`");
    } else if (row->setup != NULL &&
               !stage_has_setup(programme_stage(programme, row->stage), row->setup)) {
        g_autofree char *pointer = fault_pointer(at, "set-up");
        fault_add(reader->faults, pointer, row->setup,
                  "is no set-up of the movements of that stage");
    }
}

/* The rows are read from the top: the last must catch every angle. */
static void read_rows(Reader *reader, json_t *object, Programme *programme)
{
    json_t *list = reader_list(reader, "/start", object, "leg-raise", false);
    const GPtrArray *rows = programme->start.rows;

    for (size_t i = 0; i < json_array_size(list); i++) {
        g_autofree char *at = fault_pointer_item("/start/leg-raise", i);
        json_t *row = json_array_get(list, i);
        if (json_is_object(row))
            read_row(reader, at, row, programme);
        else
            fault_add(reader->faults, at, "this item",
                      "must be a table with `below-deg:` and `stage:`");
    }
    if (list == NULL) return;
    const StartRow *last = rows->len > 0 ? g_ptr_array_index(rows, rows->len - 1) : NULL;
    if (last != NULL && (isfinite(last->below_deg) || last->felt != NULL))
        fault_add(reader->faults, "/start/leg-raise", "leg-raise",
                  "leaves some angles without a stage: the last row must have neither `below-deg:` "
                  "nor `felt:`");
}

void start_read(Reader *reader, json_t *tree, Programme *programme)
{
    static const char *const KEYS[] = {"clinician-deg", "goal-deg", "calf", "first",
                                       "leg-raise",     "source",   NULL};
    json_t *object = reader_object(reader, "", tree, "start", true);
    Start *start = &programme->start;

    start->clinician_deg = start->goal_deg = -1;
    if (object == NULL) return;
    fault_unknown_keys(reader->faults, "/start", object, KEYS);
    start->first = reader_text(reader, "/start", object, "first", true);
    start->calf = reader_text(reader, "/start", object, "calf", false);
    check_stage(reader, "/start", "first", start->first, programme);
    check_stage(reader, "/start", "calf", start->calf, programme);
    read_rows(reader, object, programme);
    if (start->rows->len > 0) {
        start->clinician_deg = reader_number(reader, "/start", object, "clinician-deg", 0, 90);
        start->goal_deg = reader_number(reader, "/start", object, "goal-deg", 30, 120);
    }
    reader_source(reader, "/start", object);
}
