/* SPDX-License-Identifier: Apache-2.0 */
/* The outward names and form of a reading. */
#include "core/talk/reading.h"

const char *read_done_name(ReadDone done)
{
    static const char *const NAMES[] = {
        [DONE_UNSAID] = NULL, [DONE_YES] = "yes", [DONE_PARTLY] = "partly", [DONE_NO] = "no"};
    return NAMES[done];
}

const char *read_warning_name(ReadWarning warning)
{
    static const char *const NAMES[] = {
        [WARNING_NONE] = NULL,           [WARNING_CRISIS] = "crisis", [WARNING_HEART] = "heart",
        [WARNING_STROKE] = "stroke",     [WARNING_CAUDA] = "cauda",   [WARNING_CLOT] = "clot",
        [WARNING_FRACTURE] = "fracture", [WARNING_NERVE] = "nerve",   [WARNING_FALL] = "fall"};
    return NAMES[warning];
}

const char *read_command_name(ReadCommand command)
{
    static const char *const NAMES[] = {[COMMAND_NONE] = NULL,
                                        [COMMAND_STOP] = "stop",
                                        [COMMAND_START] = "start",
                                        [COMMAND_HELP] = "help"};
    return NAMES[command];
}

static const char *read_answer_name(ReadAnswer answer)
{
    static const char *const NAMES[] = {
        [ANSWER_NONE] = NULL, [ANSWER_STRETCH] = "stretch", [ANSWER_PAIN] = "pain"};
    return NAMES[answer];
}

static json_t *text_or_null(const char *text)
{
    return text != NULL ? json_string(text) : json_null();
}

/* A whole number as such, anything else to two places. */
static json_t *rating(double value)
{
    if (value == floor(value)) return json_integer((json_int_t)value);
    return json_real(round(value * 100) / 100);
}

static json_t *pain(const Reading *reading)
{
    switch (reading->pain_kind) {
    case PAIN_NUMBER: return rating(reading->pain);
    case PAIN_SOME: return json_string("some");
    default: return json_null();
    }
}

static json_t *sources(const Reading *reading)
{
    json_t *from = json_object();

    if (reading->from_done != NULL)
        json_object_set_new(from, "done", json_string(reading->from_done));
    if (reading->from_intensity != NULL)
        json_object_set_new(from, "intensity", json_string(reading->from_intensity));
    if (reading->from_pain != NULL)
        json_object_set_new(from, "pain", json_string(reading->from_pain));
    if (reading->from_warning != NULL)
        json_object_set_new(from, "warning", json_string(reading->from_warning));
    if (reading->from_suspend != NULL)
        json_object_set_new(from, "suspend", json_string(reading->from_suspend));
    if (reading->from_wrong_number != NULL)
        json_object_set_new(from, "wrong_number", json_string(reading->from_wrong_number));
    return from;
}

json_t *reading_json(const Reading *reading)
{
    json_t *document = json_object();

    json_object_set_new(document, "done", text_or_null(read_done_name(reading->done)));
    json_object_set_new(document, "intensity",
                        reading->intensity >= 0 ? rating(reading->intensity) : json_null());
    json_object_set_new(document, "pain", pain(reading));
    json_object_set_new(document, "warning", text_or_null(read_warning_name(reading->warning)));
    json_object_set_new(document, "command", text_or_null(read_command_name(reading->command)));
    json_object_set_new(document, "person", json_boolean(reading->person));
    json_object_set_new(document, "language", text_or_null(reading->language));
    json_object_set_new(document, "rest", text_or_null(reading->rest));
    json_object_set_new(document, "from", sources(reading));
    json_object_set_new(document, "suspend", json_boolean(reading->suspend));
    json_object_set_new(document, "death", json_boolean(reading->death));
    json_object_set_new(document, "away", json_boolean(reading->away));
    json_object_set_new(document, "wrong_number", json_boolean(reading->wrong_number));
    json_object_set_new(document, "ambiguous_high", json_boolean(reading->ambiguous_high));
    json_object_set_new(document, "bare_command", json_boolean(reading->bare_command));
    if (reading->letter != 0)
        json_object_set_new(document, "letter", json_stringn(&reading->letter, 1));
    json_object_set_new(document, "unclear", json_boolean(reading->unclear));
    json_object_set_new(document, "by_order", json_boolean(reading->by_order));
    json_object_set_new(document, "answer", text_or_null(read_answer_name(reading->answer)));
    return document;
}
