/* SPDX-License-Identifier: Apache-2.0 */
#include "core/practice/readiness_range.h"

#define WINDOW_MAX 64

/* The answered sessions of the window, newest first, and what they told. */
typedef struct {
    const ReadySession *answered[WINDOW_MAX];
    int n;
} Window;

static bool practised(const ReadySession *session)
{
    return session->state == READY_DONE || session->state == READY_PARTLY;
}

static bool answered(const ReadySession *session)
{
    return practised(session) || session->state == READY_NOT;
}

static double usual(const ReadyAsk *ask)
{
    return MAX(ask->usual_pain, 0);
}

/* Days since practice was last told of, or since the stage began where it never was. */
static int days_off(const ReadyAsk *ask)
{
    Day last = ask->stage_since;

    for (int i = ask->n_sessions - 1; i >= 0; i--)
        if (practised(&ask->sessions[i]) && ask->sessions[i].day <= ask->today) {
            last = MAX(last, ask->sessions[i].day);
            break;
        }
    return MAX(ask->today - last, 0);
}

/* The index of the first session after the last long break, counted in days without practice; *broke: was there one? */
static int after_break(const ReadyAsk *ask, bool *broke)
{
    Day last = ask->stage_since;
    int begin = 0;

    *broke = false;
    for (int i = 0; i < ask->n_sessions; i++) {
        if (!practised(&ask->sessions[i]) || ask->sessions[i].day > ask->today) continue;
        if (ask->sessions[i].day - last >= ask->programme->void_days_off) {
            begin = i;
            *broke = true;
        }
        last = MAX(last, ask->sessions[i].day);
    }
    return begin;
}

static Window window_of(const ReadyAsk *ask, int begin, int length)
{
    Window window = {.n = 0};
    int asked = 0;

    length = MIN(length, WINDOW_MAX);
    for (int i = ask->n_sessions - 1;
         i >= begin && window.n < length && asked < length * READY_LOOK_BACK; i--) {
        const ReadySession *session = &ask->sessions[i];
        if (session->day < ask->stage_since || session->day > ask->today) continue;
        asked += answered(session) || session->state == READY_SILENT;
        if (answered(session)) window.answered[window.n++] = session;
    }
    return window;
}

static int by_size(const void *a, const void *b)
{
    double left = *(const double *)a, right = *(const double *)b;

    return left < right ? -1 : left > right;
}

/* The median of what was told of the stretch; *told how often. */
static double median_intensity(const Window *window, int *told)
{
    double values[WINDOW_MAX];

    *told = 0;
    for (int i = 0; i < window->n; i++)
        if (window->answered[i]->intensity >= 0) values[(*told)++] = window->answered[i]->intensity;
    if (*told == 0) return NAN;
    qsort(values, (size_t)*told, sizeof values[0], by_size);
    return *told % 2 == 1 ? values[*told / 2] : (values[*told / 2 - 1] + values[*told / 2]) / 2;
}

static double highest_pain(const Window *window, int *told, bool *some)
{
    double highest = NAN;

    *told = 0;
    *some = false;
    for (int i = 0; i < window->n; i++) {
        double pain = window->answered[i]->pain;
        *some = *some || pain == READY_PAIN_SOME;
        if (pain < 0) continue;
        (*told)++;
        if (!(highest >= pain)) highest = pain;
    }
    return highest;
}

static double done_of(const Window *window)
{
    double done = 0;

    for (int i = 0; i < window->n; i++)
        done += window->answered[i]->state == READY_DONE     ? 1
                : window->answered[i]->state == READY_PARTLY ? 0.5
                                                             : 0;
    return done;
}

static bool check(Reasons *reasons, const char *rule, double value, double limit, bool met)
{
    reason_add_number(reasons, rule, value, limit, met);
    return met;
}

/* Where it pulls. Nothing told since the stage began counts neither way; a letter that is for the
 * clinician never passes. */
static bool felt_passes(const ReadyAsk *ask, Reasons *reasons)
{
    static const char *const LETTERS[] = {"A", "B", "C", "D", "E"};
    const GPtrArray *felt_not = ask->stage->exit.felt_not;
    bool told = ask->felt >= 'A' && ask->felt <= 'E' && ask->felt_day >= ask->stage_since;
    const char *letter = told ? LETTERS[ask->felt - 'A'] : NULL;
    bool passes = true;

    for (guint i = 0; told && felt_not != NULL && i < felt_not->len; i++)
        passes = passes && strcmp(g_ptr_array_index(felt_not, i), letter) != 0;
    for (guint i = 0; told && i < ask->programme->check_in->len; i++) {
        const CheckIn *check_in = g_ptr_array_index(ask->programme->check_in, i);
        passes = passes && !(check_in->clinician && strcmp(check_in->letter, letter) == 0);
    }
    if (felt_not != NULL || !passes)
        reason_add_words(reasons, "where it pulls", letter, NULL, passes);
    return passes;
}

static bool exit_met(const ReadyAsk *ask, const Window *window, Reasons *reasons)
{
    const ExitRule *rule = &ask->stage->exit;
    int told_intensity, told_pain;
    bool some;
    double intensity = median_intensity(window, &told_intensity);
    double pain = highest_pain(window, &told_pain, &some);
    bool met = check(reasons, "answered sessions in the window", window->n, rule->of_asked,
                     window->n >= rule->of_asked);

    met = check(reasons, "done of them, partly as half", done_of(window), rule->done,
                done_of(window) >= rule->done) &&
          met;
    met = check(reasons, "times the stretch was told", told_intensity, rule->told,
                told_intensity >= rule->told) &&
          met;
    met = check(reasons, "stretch, the median", intensity, rule->intensity_max,
                intensity <= rule->intensity_max) &&
          met;
    met = check(reasons, "times pain was told", told_pain, rule->told, told_pain >= rule->told) &&
          met;
    met =
        check(reasons, "highest pain over the usual", isnan(pain) ? NAN : MAX(pain - usual(ask), 0),
              rule->pain_over_usual, pain - usual(ask) <= rule->pain_over_usual) &&
        met;
    if (some) {
        reason_add_words(reasons, "pain without a number", "some", NULL, false);
        met = false;
    }
    met = felt_passes(ask, reasons) && met;
    return range_reached(ask, reasons) && met;
}

/* How often, of the last `of` sessions of the window that told it, the figure was at or over limit.
 */
static int times_over(const Window *window, bool pain, int of, double limit)
{
    int told = 0, times = 0;

    for (int i = 0; i < window->n && told < of; i++) {
        double value = pain ? window->answered[i]->pain : window->answered[i]->intensity;
        if (value < 0) continue;
        told++;
        times += value >= limit;
    }
    return times;
}

static bool too_much(const ReadyAsk *ask, int begin, Reasons *reasons)
{
    const BackRule *rule = &ask->stage->back;
    Window window =
        window_of(ask, begin, MAX(MAX(rule->pain_of, rule->strong_of), ask->stage->exit.of_asked));
    int pain = times_over(&window, true, rule->pain_of, usual(ask) + rule->pain_over_usual);
    int strong = times_over(&window, false, rule->strong_of, rule->strong);
    bool back = check(reasons, "step back: pain well over the usual, times", pain, rule->pain_times,
                      pain >= rule->pain_times);

    back = check(reasons, "step back: stretch too strong, times", strong, rule->strong_times,
                 strong >= rule->strong_times) ||
           back;
    return range_lost(ask, reasons) || back;
}

void readiness_of(const ReadyAsk *ask, ReadyAnswer *answer)
{
    const Stage *next = stage_next(ask->programme, ask->stage);
    const Stage *back = ask->back_barred == NULL ? stage_back(ask->programme, ask->stage) : NULL;
    bool broke;
    int off = days_off(ask), begin = after_break(ask, &broke);

    *answer = (ReadyAnswer){.verdict = READY_STAY, .to = ask->stage};
    Reasons *reasons = &answer->reasons;
    bool clear = check(reasons, "open alerts", ask->open_alerts, 0, ask->open_alerts == 0);
    clear = check(reasons, "holds", ask->holds, 0, ask->holds == 0) && clear;
    if (ask->screen_due)
        reason_add_words(reasons, "a fresh screen is due", "after hospital, fracture or operation",
                         NULL, false);
    if (next != NULL && ask->next_barred != NULL)
        reason_add_words(reasons, "the screen rules the next stage out", next->key,
                         ask->next_barred, false);
    clear = clear && !ask->screen_due && ask->next_barred == NULL;
    answer->window_void = off >= ask->programme->void_days_off;
    check(reasons, "days without practice", off, ask->programme->void_days_off,
          !answer->window_void);
    if (answer->window_void) {
        answer->one_dose_lower = true;
        return;
    }
    Window window = window_of(ask, begin, ask->stage->exit.of_asked);
    answer->one_dose_lower = broke && window.n < ask->stage->exit.of_asked;
    bool exits = next != NULL && exit_met(ask, &window, reasons);
    if (next == NULL)
        reason_add_words(reasons, "the programme ends with this stage: review", ask->stage->key,
                         NULL, true);
    if (too_much(ask, begin, reasons)) {
        if (back == NULL) {
            reason_add_words(reasons, "step back: there is no easier stage; the clinician decides",
                             ask->stage->key, NULL, true);
            return;
        }
        answer->verdict = READY_STEP_BACK;
        answer->to = back;
    } else if (exits && clear) {
        answer->verdict = READY_MOVE_ON;
        answer->to = next;
    }
}
