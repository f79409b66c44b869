/* SPDX-License-Identifier: Apache-2.0 */
#include "core/practice/start.h"

#define FINDINGS_MAX 32

const char *const FELT_PLACES[] = {"calf", "knee", "thigh", "sit-bone", "electric", NULL};

static bool letter(const char *at)
{
    gunichar c = g_utf8_get_char_validated(at, -1);

    return c != (gunichar)-1 && c != (gunichar)-2 && g_unichar_isalnum(c);
}

/* needle as whole words of text, both folded to one case. */
static bool has_words(const char *text, const char *needle)
{
    size_t length = strlen(needle);

    for (const char *at = strstr(text, needle); length > 0 && at != NULL;
         at = strstr(at + 1, needle)) {
        const char *before = at > text ? g_utf8_find_prev_char(text, at) : NULL;
        if ((before == NULL || !letter(before)) && !letter(at + length)) return true;
    }
    return false;
}

static bool says(const Finding *finding, const char *folded)
{
    if (strcmp(finding->key, folded) == 0) return true;
    for (guint i = 0; finding->words != NULL && i < finding->words->len; i++) {
        g_autofree char *word = g_utf8_casefold(g_ptr_array_index(finding->words, i), -1);
        if (has_words(folded, word)) return true;
    }
    return false;
}

int findings_in(const Programme *programme, const char *text, const Finding **out, int max)
{
    g_autofree char *valid = g_utf8_make_valid(text, -1);
    g_autofree char *folded = g_utf8_casefold(valid, -1);
    int n = 0;

    for (guint i = 0; i < programme->findings->len && n < max; i++) {
        const Finding *finding = g_ptr_array_index(programme->findings, i);
        if (says(finding, folded)) out[n++] = finding;
    }
    return n;
}

/* The finding of the screen that a list of keys rules out, or NULL. */
static const Finding *ruled_out(const Programme *programme, const GPtrArray *not_for,
                                const ScreenFound *screen)
{
    const Finding *found[FINDINGS_MAX];

    for (int f = 0; not_for != NULL && f < screen->n_findings; f++) {
        int n = findings_in(programme, screen->findings[f], found, FINDINGS_MAX);
        for (int i = 0; i < n; i++)
            for (guint k = 0; k < not_for->len; k++)
                if (strcmp(found[i]->key, g_ptr_array_index(not_for, k)) == 0) return found[i];
    }
    return NULL;
}

static bool lists_no_floor(const GPtrArray *not_for)
{
    for (guint k = 0; not_for != NULL && k < not_for->len; k++)
        if (strcmp(g_ptr_array_index(not_for, k), FINDING_NO_FLOOR) == 0) return true;
    return false;
}

static bool allowed(const Programme *programme, const GPtrArray *not_for, bool floor_needed,
                    const ScreenFound *screen, const char **because)
{
    const Finding *finding = ruled_out(programme, not_for, screen);

    if (!screen->floor && (floor_needed || lists_no_floor(not_for))) {
        *because = "cannot get down to the floor and up again alone: bed or chair only";
        return false;
    }
    if (finding == NULL) return true;
    *because = finding->because;
    return false;
}

bool setup_allowed(const Programme *programme, const Setup *setup, const ScreenFound *screen,
                   const char **because)
{
    return allowed(programme, setup->not_for, setup->place == PLACE_FLOOR, screen, because);
}

const Setup *movement_setup(const Programme *programme, const Movement *movement,
                            const ScreenFound *screen, const char *wanted)
{
    const Setup *first = NULL;
    const char *because;

    for (guint i = 0; i < movement->setups->len; i++) {
        const Setup *setup = g_ptr_array_index(movement->setups, i);
        if (!setup_allowed(programme, setup, screen, &because)) continue;
        if (wanted != NULL && strcmp(setup->key, wanted) == 0) return setup;
        if (first == NULL) first = setup;
    }
    return first;
}

bool stage_allowed(const Programme *programme, const Stage *stage, const ScreenFound *screen,
                   const char **because)
{
    if (!allowed(programme, stage->not_for, false, screen, because)) return false;
    for (guint i = 0; i < stage->movements->len; i++) {
        const Movement *movement = g_ptr_array_index(stage->movements, i);
        if (movement->setups->len > 0 &&
            movement_setup(programme, movement, screen, NULL) == NULL) {
            *because = "a movement of this stage has no set-up that this client may use";
            return false;
        }
    }
    return true;
}

/* Reads the screen: cautions go among the reasons; true where the clinician must choose. */
static bool screen_needs_clinician(const Programme *programme, const ScreenFound *screen,
                                   Reasons *reasons)
{
    const Finding *found[FINDINGS_MAX];
    bool clinician = false;

    for (int f = 0; f < screen->n_findings; f++) {
        int n = findings_in(programme, screen->findings[f], found, FINDINGS_MAX);
        if (n == 0)
            reason_add_words(reasons, "a finding that no rule reads is for the clinician",
                             screen->findings[f], NULL, true);
        for (int i = 0; i < n; i++) {
            reason_add_words(reasons,
                             found[i]->clinician ? "a finding for the clinician"
                                                 : "a finding to be careful with",
                             found[i]->key, found[i]->because, found[i]->clinician);
            clinician = clinician || found[i]->clinician;
        }
        clinician = clinician || n == 0;
    }
    return clinician;
}

static bool fits(const StartRow *row, const StartAsk *ask)
{
    bool felt = row->felt == NULL;

    for (guint i = 0; !felt && ask->felt != NULL && i < row->felt->len; i++)
        felt = strcmp(g_ptr_array_index(row->felt, i), ask->felt) == 0;
    return felt && ask->angle_deg < row->below_deg;
}

/* The stage by rule, with *setup where the rule names one. NULL: the clinician. */
static const Stage *by_rule(const Programme *programme, const StartAsk *ask, const char **setup,
                            Reasons *reasons)
{
    const Start *start = &programme->start;
    const char *key = start->first;

    if (g_strcmp0(ask->felt, "electric") == 0) {
        reason_add_words(reasons, "an electric, burning or tingling pull is for the clinician",
                         ask->felt, NULL, true);
        return NULL;
    }
    bool measured = ask->angle_deg >= 0 && start->rows->len > 0;
    if (measured && ask->angle_deg <= start->clinician_deg) {
        reason_add_number(reasons, "a leg raise this low is for the clinician", ask->angle_deg,
                          start->clinician_deg, true);
        return NULL;
    }
    if (start->calf != NULL && g_strcmp0(ask->felt, "calf") == 0) {
        reason_add_words(reasons, "felt in the calf: calf first", ask->felt, start->calf, true);
        return programme_stage(programme, start->calf);
    }
    if (!measured) {
        reason_add_words(reasons, "nothing measured: the gentlest stage", NULL, key, true);
        return programme_stage(programme, key);
    }
    for (guint i = 0; i < start->rows->len; i++) {
        const StartRow *row = g_ptr_array_index(start->rows, i);
        if (!fits(row, ask)) continue;
        reason_add_number(
            reasons, isfinite(row->below_deg) ? "leg raise below" : "leg raise at or over the goal",
            ask->angle_deg, isfinite(row->below_deg) ? row->below_deg : start->goal_deg, true);
        if (row->felt != NULL)
            reason_add_words(reasons, "and felt there", ask->felt, row->stage, true);
        *setup = row->setup;
        return programme_stage(programme, row->stage);
    }
    reason_add_number(reasons, "no row of the programme fits this angle", ask->angle_deg, NAN,
                      true);
    return NULL;
}

/* The set-up of the stage's first movement that has any, and where to lie in it. */
static void settle_setup(const Programme *programme, const StartAsk *ask, const char *wanted,
                         StartAnswer *answer)
{
    Refusal refusal;
    const char *because = NULL;
    const Setup *asked_for = programme_setup(programme, wanted);

    if (asked_for != NULL && !setup_allowed(programme, asked_for, &ask->screen, &because))
        reason_add_words(&answer->reasons, "set-up ruled out by the screen", asked_for->key,
                         because, true);
    for (guint i = 0; answer->setup == NULL && i < answer->stage->movements->len; i++)
        answer->setup = movement_setup(programme, g_ptr_array_index(answer->stage->movements, i),
                                       &ask->screen, wanted);
    if (answer->setup == NULL) return;
    answer->laid = answer->setup->geometry != GEOMETRY_NONE && ask->leg_cm > 0 &&
                   ask->angle_deg >= 0 &&
                   lay_start(answer->setup, ask->leg_cm, ask->angle_deg, &answer->lay, &refusal);
}

void start_find(const Programme *programme, const StartAsk *ask, StartAnswer *answer)
{
    const char *wanted = NULL, *because = NULL;

    *answer = (StartAnswer){.stage = NULL};
    bool clinician = screen_needs_clinician(programme, &ask->screen, &answer->reasons);
    const Stage *stage = by_rule(programme, ask, &wanted, &answer->reasons);
    if (clinician || stage == NULL) return;
    if (!stage_allowed(programme, stage, &ask->screen, &because)) {
        reason_add_words(&answer->reasons, "stage ruled out by the screen: the clinician first",
                         stage->key, because, true);
        return;
    }
    answer->stage = stage;
    settle_setup(programme, ask, wanted, answer);
}

json_t *start_json(const StartAnswer *answer)
{
    static const char *const FIELDS[] = {"", "distance_cm", "ball_cm", "height_cm"};
    json_t *out = json_object();
    const Setup *setup = answer->setup;

    json_object_set_new(out, "stage",
                        answer->stage != NULL ? json_string(answer->stage->key) : json_null());
    json_object_set_new(out, "set_up", setup != NULL ? json_string(setup->key) : json_null());
    json_object_set_new(out, "clinician_first", json_boolean(answer->stage == NULL));
    if (answer->laid) {
        json_t *at = json_object();
        json_object_set_new(at, FIELDS[answer->lay.kind],
                            json_real(round(answer->lay.reach_cm * 10) / 10));
        json_object_set_new(at, "angle_deg", json_real(round(answer->lay.angle_deg * 10) / 10));
        json_object_set_new(out, "start_at", at);
    }
    json_object_set_new(out, "reasons", reasons_json(&answer->reasons));
    return out;
}
