/* SPDX-License-Identifier: Apache-2.0 */
#include "core/practice/readiness.h"

static const char *const STATES[] = {
    [READY_DONE] = "done",     [READY_PARTLY] = "partly",   [READY_NOT] = "not",
    [READY_SILENT] = "silent", [READY_UNASKED] = "unasked", [READY_EXCUSED] = "excused"};

const char *ready_verdict_name(ReadyVerdict verdict)
{
    static const char *const NAMES[] = {
        [READY_MOVE_ON] = "move on", [READY_STAY] = "stay", [READY_STEP_BACK] = "step back"};

    return NAMES[verdict];
}

ReadyState ready_state_from_name(const char *name)
{
    for (size_t i = 0; i < G_N_ELEMENTS(STATES); i++)
        if (g_strcmp0(name, STATES[i]) == 0) return (ReadyState)i;
    return READY_OPEN;
}

bool absence_needs_screen(const char *why)
{
    static const char *const WHY[] = {"hospital", "fracture", "operation", NULL};

    return why != NULL && g_strv_contains(WHY, why);
}

json_t *readiness_json(const ReadyAsk *ask, const ReadyAnswer *answer)
{
    json_t *out = json_object();

    json_object_set_new(out, "verdict", json_string(ready_verdict_name(answer->verdict)));
    json_object_set_new(out, "reasons", reasons_json(&answer->reasons));
    json_object_set_new(out, "stage", json_string(ask->stage->key));
    json_object_set_new(out, "to", json_string(answer->to->key));
    json_object_set_new(out, "window_void", json_boolean(answer->window_void));
    json_object_set_new(out, "one_dose_lower", json_boolean(answer->one_dose_lower));
    return out;
}
