/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/rehearsal/people.h"

#include <string.h>

#include "daemon/rehearsal/phrases.h"

/* Nobody writes after half past nine; who meant to, writes in the morning. */
enum { EVENING_S = (21 * 60 + 30) * 60, MORNING_S = (7 * 60 + 40) * 60, MORNING_LATE_S = 35 * 60 };

/* After so many days of practice it pulls higher up. */
enum { PULL_MOVES_DAYS = 12 };

/* What a session adds to the leg raise: at six a week, the 2.4 degrees a week of Feland JB et al., Phys Ther
 * 2001;81:1110-1117 (aged 65 to 97, holds of 60 s). Begun somewhere between 58 and 70 where nobody measured. */
#define GAIN_DEG 0.4
enum { BEGUN_FROM_DEG = 58, BEGUN_SPREAD = 13, RANGE_MOST_DEG = 95 };

static const Truth UNTOLD = {-1, -1, -1};

void saying_free(Saying *saying)
{
    if (saying == NULL) return;
    g_free(saying->text);
    g_free(saying);
}

static int draw(const Someone *someone, Random *random, const char *what, int below)
{
    g_autofree char *purpose = g_strconcat("people/", someone->persona->name, "/", what, NULL);

    return (int)random_below(random, purpose, (uint64_t)MAX(below, 1));
}

static const char *put(const Someone *someone, Random *random, Phrase what)
{
    return phrase(someone->language, what, (guint64)draw(someone, random, "words", 1 << 16));
}

static int day_of(const Someone *someone, int64_t now_ms)
{
    return (int)(zone_local(someone->zone, now_ms).day - someone->from);
}

/* When somebody who means to write so many minutes from now really does. */
static int64_t writes_at(const Someone *someone, Random *random, int64_t now_ms, int minutes)
{
    int64_t at_ms = now_ms + minutes * MINUTE_MS + draw(someone, random, "seconds", 60) * SECOND_MS;
    LocalTime local = zone_local(someone->zone, at_ms);

    if (local.second < EVENING_S && local.second >= MORNING_S) return at_ms;
    Day day = local.second >= EVENING_S ? local.day + 1 : local.day;
    int32_t second = MORNING_S + draw(someone, random, "morning", MORNING_LATE_S);
    return zone_instant(someone->zone, (LocalTime){day, second}, NULL);
}

static int pain_on(const Someone *someone, int day)
{
    const Persona *persona = someone->persona;
    bool rising = persona->rises_from > 0 && day >= persona->rises_from && !someone->eased;

    if (persona->sore_from > 0 && day >= persona->sore_from && day <= persona->sore_to)
        return persona->sore;
    return persona->pain + (rising ? 1 + (day - persona->rises_from) / 2 : 0);
}

/* How the session of that day went. */
static Truth session_of(const Someone *someone, Random *random, int day)
{
    const Persona *persona = someone->persona;
    int roll = draw(someone, random, "outcome", 100);
    int stretch = CLAMP(persona->stretch + draw(someone, random, "stretch", 3) - 1, 1, 6);

    if (roll >= persona->done + persona->partly) return (Truth){0, -1, -1};
    return (Truth){roll < persona->done ? 2 : 1, stretch, MIN(pain_on(someone, day), 10)};
}

static Phrase phrase_of(Truth truth)
{
    if (truth.done == 0) return PHRASE_NOT;
    if (truth.done == 1) return PHRASE_PARTLY;
    return truth.pain > 0 ? PHRASE_DONE_PAIN : PHRASE_DONE;
}

static void practise(Someone *someone, Truth truth)
{
    if (truth.done > 0) someone->gain_deg += truth.done == 2 ? GAIN_DEG : GAIN_DEG / 2;
}

double person_range(Someone *someone, Random *random)
{
    const Persona *persona = someone->persona;

    if (someone->begun_deg <= 0)
        someone->begun_deg = persona->angle_deg > 0
                                 ? persona->angle_deg
                                 : BEGUN_FROM_DEG + draw(someone, random, "range", BEGUN_SPREAD);
    return MIN(someone->begun_deg + someone->gain_deg, RANGE_MOST_DEG);
}

/* On a shared phone an answer begins with one's letter, where it is not forgotten: once in so many times. */
enum { FORGETS_LETTER_OF = 9 };

static char *put_letter(const Someone *someone, Random *random, char *text)
{
    if (someone->letter == 0 || draw(someone, random, "forgets the letter", FORGETS_LETTER_OF) == 0)
        return text;
    char *marked = g_strdup_printf("%c %s", someone->letter, text);
    g_free(text);
    return marked;
}

static Saying *say(Someone *someone, Random *random, const char *text, Truth truth, int64_t now_ms,
                   int minutes)
{
    Saying *saying = g_new0(Saying, 1);

    *saying =
        (Saying){.at_ms = writes_at(someone, random, now_ms, minutes),
                 .text = put_letter(someone, random, phrase_fill(text, truth.stretch, truth.pain)),
                 .truth = truth,
                 .day = zone_local(someone->zone, now_ms).day};
    if (truth.done >= 0) someone->last = truth;
    practise(someone, truth);
    return saying;
}

static const Episode *episode_on(const Persona *persona, int day)
{
    for (int i = 0; i < EPISODES_MAX && persona->episodes[i].text != NULL; i++)
        if (persona->episodes[i].day == day) return &persona->episodes[i];
    return NULL;
}

static bool is_silent(const Someone *someone, int day)
{
    const Persona *persona = someone->persona;

    return someone->left || (persona->silent_from > 0 && day >= persona->silent_from &&
                             (persona->silent_to == 0 || day < persona->silent_to));
}

static Saying *hear_reminder(Someone *someone, Random *random, int64_t now_ms)
{
    const Persona *persona = someone->persona;
    int day = day_of(someone, now_ms);
    const Episode *episode = day + 1 != someone->told_day ? episode_on(persona, day) : NULL;
    int minutes = persona->delay_low +
                  draw(someone, random, "delay", persona->delay_high - persona->delay_low + 1);

    someone->open = true;
    someone->meant = false;
    if (is_silent(someone, day)) return NULL;
    if (episode == NULL && draw(someone, random, "answers", 100) >= persona->answers) return NULL;
    someone->meant = true;
    if (episode != NULL && zone_local(someone->zone, now_ms).second < 19 * 3600) {
        Saying *saying = say(someone, random, episode->text, episode->truth, now_ms, minutes);
        saying->meaning = episode->meaning;
        someone->told_day = day + 1;
        someone->left = episode->meaning == MEANS_STOP;
        return saying;
    }
    Truth truth = session_of(someone, random, day);
    if (truth.done == 1) truth.pain = 0; /* so say the ways of putting it */
    const char *text = put(someone, random, phrase_of(truth));
    return say(someone, random, text, truth, now_ms, minutes);
}

/* Who had simply forgotten to answer sometimes does so when asked again. */
static Saying *hear_nudge(Someone *someone, Random *random, int64_t now_ms)
{
    if (!someone->open || someone->meant || is_silent(someone, day_of(someone, now_ms)) ||
        draw(someone, random, "nudge", 100) >= 60)
        return NULL;
    someone->meant = true;
    Truth truth = {2, someone->persona->stretch, 0};
    return say(someone, random, put(someone, random, PHRASE_LATE), truth, now_ms,
               5 + draw(someone, random, "delay", 60));
}

static Saying *hear_question(Someone *someone, Random *random, Phrase what, int value,
                             int64_t now_ms)
{
    Truth truth = someone->last;

    if (what == PHRASE_STRETCH && value >= 0) truth.stretch = value;
    if (what == PHRASE_PAIN && truth.pain < 0) truth.pain = 2;
    return say(someone, random, put(someone, random, what), truth, now_ms,
               3 + draw(someone, random, "delay", 40));
}

/* Where the sheet at home has it. */
static const char *letter_of(const Persona *persona, int day)
{
    bool eased = day >= PULL_MOVES_DAYS;

    if (g_strcmp0(persona->felt, "calf") == 0 && !eased) return "A";
    return eased ? "C" : "B";
}

static Saying *hear_checkin(Someone *someone, Random *random, int64_t now_ms)
{
    int day = day_of(someone, now_ms);

    if (is_silent(someone, day) ||
        draw(someone, random, "letter", 100) >= someone->persona->answers)
        return NULL;
    g_auto(GStrv) parts = g_strsplit(put(someone, random, PHRASE_LETTER), "{l}", 2);
    g_autofree char *text = g_strjoinv(letter_of(someone->persona, day), parts);
    return say(someone, random, text, UNTOLD, now_ms, 4 + draw(someone, random, "delay", 40));
}

static Saying *thank(Someone *someone, Random *random, int64_t now_ms)
{
    if (draw(someone, random, "thanks", 100) >= 50) return NULL;
    return say(someone, random, put(someone, random, PHRASE_THANKS), UNTOLD, now_ms,
               2 + draw(someone, random, "delay", 15));
}

/* Is it that text, or the one that stands for it on a shared phone? */
static bool is(const char *key, const char *text)
{
    return g_str_has_prefix(key, text) &&
           (key[strlen(text)] == '\0' || strcmp(key + strlen(text), "-shared") == 0);
}

Saying *person_hear(Someone *someone, Random *random, const char *key, int value, int64_t now_ms)
{
    if (key == NULL) return NULL;
    if (g_str_has_prefix(key, "reminder")) return hear_reminder(someone, random, now_ms);
    if (is(key, "nudge")) return hear_nudge(someone, random, now_ms);
    if (someone->left) return NULL;
    if (is(key, "checkin")) return hear_checkin(someone, random, now_ms);
    if (is(key, "question-pain")) return hear_question(someone, random, PHRASE_PAIN, value, now_ms);
    if (is(key, "question-high") || g_str_has_prefix(key, "safety-pain-unsaid"))
        return hear_question(someone, random, PHRASE_STRETCH, value, now_ms);
    if (g_str_has_prefix(key, "outcome-")) {
        someone->eased = true;
        return thank(someone, random, now_ms);
    }
    return NULL;
}

Truth person_told(Someone *someone, Random *random, int64_t now_ms)
{
    if (draw(someone, random, "answers", 100) >= someone->persona->answers) return UNTOLD;
    Truth truth = session_of(someone, random, day_of(someone, now_ms));
    practise(someone, truth);
    return truth;
}
