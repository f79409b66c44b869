/* SPDX-License-Identifier: Apache-2.0 */
/* Exit and step-back criteria, measures with the error of their methods, and the letters of the
 * weekly question. */
#include "core/practice/programme_parts.h"

static const char *const UNITS[] = {"deg", "cm", "s", "points", NULL};
static const char *const LETTERS[] = {"A", "B", "C", "D", "E", NULL};
static const char *const PLACES[] = {"calf", "knee", "thigh", "sit-bone", "electric", NULL};

static void read_exit_measure(Reader *reader, const char *above, json_t *object,
                              const Programme *programme, ExitRule *rule)
{
    static const char *const KEYS[] = {"of",          "at-least", "at-most", "goal",
                                       "within-days", "source",   NULL};
    json_t *table = reader_object(reader, above, object, "measure", false);

    if (table == NULL) return;
    g_autofree char *at = fault_pointer(above, "measure");
    fault_unknown_keys(reader->faults, at, table, KEYS);
    rule->measure = reader_text(reader, at, table, "of", true);
    const Measure *measure = programme_measure(programme, rule->measure);
    if (rule->measure != NULL && measure == NULL) {
        g_autofree char *of = fault_pointer(at, "of");
        fault_add(reader->faults, of, rule->measure, "is not listed under `measures:`");
    }
    rule->goal = fault_bool(reader->faults, at, table, "goal", false);
    const char *limit = measure != NULL && measure->less_is_better ? "at-most" : "at-least";
    const char *other = measure != NULL && measure->less_is_better ? "at-least" : "at-most";
    if (json_object_get(table, other) != NULL) {
        g_autofree char *pointer = fault_pointer(at, other);
        fault_add_key(reader->faults, pointer, other,
                      "points the wrong way for this measure: say `%s:`", limit);
    } else if (!rule->goal) {
        rule->at_least = reader_number(reader, at, table, limit, 0, 400);
    }
    rule->measure_days = reader_whole(reader, at, table, "within-days", 1, 120);
    reader_source(reader, at, table);
}

void exit_read(Reader *reader, const char *above, json_t *object, const Programme *programme,
               ExitRule *rule)
{
    static const char *const KEYS[] = {
        "of-asked", "done",   "told", "intensity-at-most", "pain-over-usual-at-most", "measure",
        "felt-not", "source", NULL};
    json_t *table = reader_object(reader, above, object, "exit", true);

    if (table == NULL) return;
    g_autofree char *at = fault_pointer(above, "exit");
    fault_unknown_keys(reader->faults, at, table, KEYS);
    rule->of_asked = reader_whole(reader, at, table, "of-asked", 3, 60);
    rule->done = reader_whole(reader, at, table, "done", 1, 60);
    rule->told = reader_whole(reader, at, table, "told", 1, 60);
    rule->intensity_max = reader_number(reader, at, table, "intensity-at-most", 0, 10);
    rule->pain_over_usual = reader_number(reader, at, table, "pain-over-usual-at-most", 0, 10);
    if (rule->told > rule->of_asked) {
        reader_fault(reader, at, table, "told", "is impossible: told %d times in %d sessions",
                     rule->told, rule->of_asked);
    }
    if (rule->done > rule->of_asked) {
        reader_fault(reader, at, table, "done", "is impossible: %d done of %d asked", rule->done,
                     rule->of_asked);
    }
    rule->felt_not = reader_texts(reader, at, table, "felt-not", false);
    for (guint i = 0; rule->felt_not != NULL && i < rule->felt_not->len; i++) {
        const char *letter = g_ptr_array_index(rule->felt_not, i);
        g_autofree char *felt = fault_pointer(at, "felt-not");
        if (!g_strv_contains(LETTERS, letter))
            fault_add(reader->faults, felt, letter,
                      "must be a letter of the sheet: A, B, C, D or E");
    }
    read_exit_measure(reader, at, table, programme, rule);
    reader_source(reader, at, table);
}

void back_read(Reader *reader, const char *above, json_t *object, BackRule *rule)
{
    static const char *const KEYS[] = {"pain-over-usual", "pain-times",   "pain-of",
                                       "strong",          "strong-times", "strong-of",
                                       "loss-of-range",   "source",       NULL};
    json_t *table = reader_object(reader, above, object, "step-back", true);

    if (table == NULL) return;
    g_autofree char *at = fault_pointer(above, "step-back");
    fault_unknown_keys(reader->faults, at, table, KEYS);
    rule->pain_over_usual = reader_number(reader, at, table, "pain-over-usual", 1, 10);
    rule->pain_times = reader_whole(reader, at, table, "pain-times", 1, 20);
    rule->pain_of = reader_whole(reader, at, table, "pain-of", 1, 20);
    rule->strong = reader_number(reader, at, table, "strong", 1, 10);
    rule->strong_times = reader_whole(reader, at, table, "strong-times", 1, 20);
    rule->strong_of = reader_whole(reader, at, table, "strong-of", 1, 20);
    rule->loss = fault_bool(reader->faults, at, table, "loss-of-range", true);
    if (rule->pain_times > rule->pain_of)
        fault_add(reader->faults, at, "pain-times", "is impossible: %d times of %d",
                  rule->pain_times, rule->pain_of);
    if (rule->strong_times > rule->strong_of)
        fault_add(reader->faults, at, "strong-times", "is impossible: %d times of %d",
                  rule->strong_times, rule->strong_of);
    reader_source(reader, at, table);
}

static void read_method(Reader *reader, const char *at, const char *key, json_t *object,
                        Measure *measure)
{
    static const char *const KEYS[] = {"title",    "sem",    "sem-sides", "by",
                                       "landmark", "source", NULL};
    static const char *const BY[] = {"clinician", "client", NULL};
    Method *method = g_new0(Method, 1);

    g_ptr_array_add(measure->methods, method);
    fault_unknown_keys(reader->faults, at, object, KEYS);
    method->key = key;
    method->title = reader_text(reader, at, object, "title", true);
    method->sem = reader_number(reader, at, object, "sem", 0.01, 50);
    method->sem_sides = method->sem;
    if (json_object_get(object, "sem-sides") != NULL)
        method->sem_sides = reader_number(reader, at, object, "sem-sides", 0.01, 50);
    method->by_client = reader_choice(reader, at, object, "by", BY, 0) == 1;
    method->landmark = reader_text(reader, at, object, "landmark", true);
    reader_source(reader, at, object);
}

static void read_measure(Reader *reader, const char *at, const char *key, json_t *object,
                         Programme *programme)
{
    static const char *const KEYS[] = {
        "title",     "unit",    "better", "possible", "shown-deg-per-cm",
        "loss-sign", "methods", "source", NULL};
    static const char *const BETTER[] = {"more", "less", NULL};
    Measure *measure = g_new0(Measure, 1);
    const char *name;
    json_t *method;

    measure->methods = g_ptr_array_new_with_free_func(g_free);
    g_ptr_array_add(programme->measures, measure);
    fault_unknown_keys(reader->faults, at, object, KEYS);
    measure->key = key;
    measure->title = reader_text(reader, at, object, "title", true);
    int unit = reader_choice(reader, at, object, "unit", UNITS, -1);
    measure->unit = UNITS[unit < 0 ? 0 : unit];
    measure->less_is_better = reader_choice(reader, at, object, "better", BETTER, -1) == 1;
    measure->possible = reader_range(reader, at, object, "possible", 0, 300, true);
    if (json_object_get(object, "shown-deg-per-cm") != NULL)
        measure->shown_deg_per_cm = reader_number(reader, at, object, "shown-deg-per-cm", 0.1, 30);
    if (json_object_get(object, "loss-sign") != NULL)
        measure->loss_sign = reader_number(reader, at, object, "loss-sign", 0.1, 50);
    json_t *methods = reader_object(reader, at, object, "methods", true);
    g_autofree char *base = fault_pointer(at, "methods");
    json_object_foreach(methods, name, method)
    {
        g_autofree char *below = fault_pointer(base, name);
        if (json_is_object(method))
            read_method(reader, below, name, method, measure);
        else
            fault_add(reader->faults, below, name,
                      "must be a table with `title:`, `sem:` and `landmark:`");
    }
    reader_source(reader, at, object);
}

void measures_read(Reader *reader, json_t *tree, Programme *programme)
{
    json_t *table = reader_object(reader, "", tree, "measures", false);
    const char *key;
    json_t *measure;

    json_object_foreach(table, key, measure)
    {
        g_autofree char *at = fault_pointer("/measures", key);
        if (json_is_object(measure))
            read_measure(reader, at, key, measure, programme);
        else
            fault_add(reader->faults, at, key,
                      "must be a table with `title:`, `unit:` and `methods:`");
    }
}

static void read_letter(Reader *reader, const char *at, const char *letter, json_t *object,
                        Programme *programme)
{
    static const char *const KEYS[] = {"place", "text", "then", NULL};
    static const char *const THEN[] = {"go on", "clinician", NULL};
    CheckIn *check_in = g_new0(CheckIn, 1);

    g_ptr_array_add(programme->check_in, check_in);
    fault_unknown_keys(reader->faults, at, object, KEYS);
    check_in->letter = letter;
    int place = reader_choice(reader, at, object, "place", PLACES, -1);
    check_in->place = PLACES[place < 0 ? 0 : place];
    check_in->text = reader_text(reader, at, object, "text", true);
    check_in->clinician = reader_choice(reader, at, object, "then", THEN, 0) == 1;
    if (strcmp(check_in->place, "electric") == 0 && !check_in->clinician)
        fault_add(reader->faults, at, letter,
                  "an electric or tingling pull is for the clinician: add `then: clinician`");
}

void check_in_read(Reader *reader, json_t *tree, Programme *programme)
{
    json_t *table = reader_object(reader, "", tree, "check-in", false);
    const char *letter;
    json_t *entry;

    json_object_foreach(table, letter, entry)
    {
        g_autofree char *at = fault_pointer("/check-in", letter);
        if (!g_strv_contains(LETTERS, letter))
            fault_add_key(reader->faults, at, letter,
                          "must be a letter of the sheet: A, B, C, D or E");
        else if (json_is_object(entry))
            read_letter(reader, at, letter, entry, programme);
        else
            fault_add(reader->faults, at, letter, "must be a table with `place:` and `text:`");
    }
}
