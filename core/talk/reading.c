/* SPDX-License-Identifier: Apache-2.0 */
#include "core/talk/reading.h"

#include "core/talk/reading_inside.h"

/* One pack's reading, and what it leaves: which bytes of the text it knows, and which it read. */
typedef struct {
    Reading *reading;
    char *text;
    bool *known; /* by byte */
    int length;
    int tokens, known_tokens;
} Attempt;

void work_from(Work *work, char **field, int start, int end)
{
    int from = token_at(work, start)->from, to = token_at(work, end - 1)->to;

    g_free(*field);
    *field = to > from ? g_strndup(work->text + from, (gsize)(to - from)) : NULL;
}

static Reading *reading_new(void)
{
    Reading *reading = g_new0(Reading, 1);

    reading->intensity = -1;
    return reading;
}

static bool filler(const Work *work, int i)
{
    static const Role FILLERS[] = {ROLE_FILL, ROLE_THANKS, ROLE_AND, ROLE_OR, ROLE_BUT, ROLE_BREAK};

    for (size_t r = 0; r < G_N_ELEMENTS(FILLERS); r++)
        if (role_covers(work, FILLERS[r], i)) return true;
    return false;
}

static bool wordy(const Work *work, int i)
{
    return !token_at(work, i)->digits &&
           g_unichar_isalpha(g_utf8_get_char(work->text + token_at(work, i)->from));
}

/* A sentence of which nothing was read, and which is more than a polite word or two: its common
 * words may say something together that no rule knows. */
static bool whole_unread(const Work *work, int from, int to)
{
    enum { SHORT = 3 };
    int words = 0;

    for (int i = from; i < to; i++) {
        if (work->said[i] || role_covers(work, ROLE_THANKS, i)) return false;
        words +=
            wordy(work, i) && !role_covers(work, ROLE_LEAD, i) && !role_covers(work, ROLE_TAIL, i);
    }
    return words > SHORT;
}

/* The words that no rule read: in each sentence from the first such word to the last. */
static char *rest_of(const Work *work)
{
    GString *rest = g_string_new(NULL);
    int count = token_count(work);

    for (int from = 0; from < count;) {
        int to = from + 1, first = -1, last = -1;
        while (to < count && token_at(work, to)->level != LEVEL_SENTENCE)
            to++;
        bool whole = whole_unread(work, from, to);
        for (int i = from; i < to; i++)
            if (whole || (!work->said[i] && !filler(work, i))) {
                first = first < 0 ? i : first;
                last = i;
            }
        if (first >= 0) {
            if (rest->len > 0) g_string_append(rest, " / ");
            g_string_append_len(rest, work->text + token_at(work, first)->from,
                                token_at(work, last)->to - token_at(work, first)->from);
        }
        from = to;
    }
    if (rest->len == 0) {
        g_string_free(rest, TRUE);
        return NULL;
    }
    return g_string_free(rest, FALSE);
}

/* Nothing at all came of a text that has words of its own. */
static bool unread(const Work *work)
{
    const Reading *out = work->out;
    bool polite =
        mark_first(work, ROLE_THANKS) >= 0 || mark_first(work, ROLE_LATER) >= 0 || work->other_day;

    return !polite && out->rest != NULL && out->done == DONE_UNSAID && out->intensity < 0 &&
           out->pain_kind == PAIN_UNSAID && out->warning == WARNING_NONE &&
           out->command == COMMAND_NONE && !out->suspend;
}

/* What is left over for a person: of a text that nothing came of, all. */
static void leave(Work *work)
{
    Reading *out = work->out;
    int count = token_count(work);

    out->rest = rest_of(work);
    if (!unread(work)) return;
    out->person = true;
    work_from(work, &out->rest, 0, count);
}

static void work_free(Work *work)
{
    g_array_unref(work->tokens);
    g_array_unref(work->marks);
    g_array_unref(work->numbers);
    g_free(work->at_start);
    g_free(work->at_end);
    g_free(work->of_class);
    g_free(work->said);
    g_free(work->covers);
}

static int *none_yet(guint n)
{
    int *list = g_new(int, n);

    memset(list, 0xFF, sizeof(int) * n);
    return list;
}

static void read_work(Work *work)
{
    tokens_make(work);
    guint count = work->tokens->len;
    work->at_start = none_yet(count + 1);
    work->at_end = none_yet(count + 1);
    work->of_class = none_yet(work->rules->entries->len);
    work->said = g_new0(bool, count + 1);
    work->covers = g_new0(RoleSet, count + 1);
    work->marks_max = (count + 1) * READ_MARKS_PER_TOKEN;
    numbers_find(work);
    chart_make(work);
    numbers_type(work);
    scope_prepare(work);
    commands_read(work);
    if (!work->out->bare_command) {
        signs_read(work);
        report_read(work);
    }
    for (int i = mark_first(work, ROLE_THANKS); i >= 0; i = mark_at(work, i)->next_of_class)
        mark_say(work, mark_at(work, i));
    leave(work);
    work->out->person |= work->out->warning != WARNING_NONE;
}

static void note_known(const Work *work, Attempt *attempt)
{
    attempt->known = g_new0(bool, (gsize)attempt->length + 1);
    for (int i = 0; i < token_count(work); i++) {
        const Token *token = token_at(work, i);
        bool known = token->digits || ((token->word != 0 || token->stem != 0) && !token->fuzzy);
        attempt->tokens += !token->digits;
        attempt->known_tokens += known && !token->digits;
        for (int b = token->from; known && b < token->to; b++)
            attempt->known[b] = true;
    }
}

static Attempt attempt_read(const Pack *pack, const char *text, size_t length)
{
    Work work = {.rules = pack_rules(pack), .out = reading_new()};
    Attempt attempt = {.reading = work.out};

    attempt.text = text_cut(work.rules, text, length, &work);
    work.text = attempt.text;
    attempt.length = work.length;
    work.tokens = g_array_new(FALSE, FALSE, sizeof(Token));
    work.marks = g_array_sized_new(FALSE, FALSE, sizeof(Mark), 128);
    work.numbers = g_array_new(FALSE, FALSE, sizeof(Number));
    work.out->language = g_strdup(pack_language(pack));
    read_work(&work);
    if (work.emptied) work.out->person = true;
    note_known(&work, &attempt);
    work_free(&work);
    return attempt;
}

static void attempt_clear(Attempt *attempt)
{
    reading_free(attempt->reading);
    g_free(attempt->text);
    g_free(attempt->known);
}

/* Whether some word of a reading's source is one that the other pack does not know: it is no false
 * friend. */
static bool foreign(const Attempt *from, const Attempt *to, const char *words)
{
    const char *found = words != NULL && from->text != NULL ? strstr(from->text, words) : NULL;

    if (found == NULL || from->length != to->length) return false;
    int start = (int)(found - from->text), unknown = 0, known = 0;
    for (int b = start; b < start + (int)strlen(words); b++) {
        if ((guchar)from->text[b] <= ' ') continue;
        if (to->known[b])
            known++;
        else
            unknown++;
    }
    return unknown > known;
}

/* A text of two languages: what the chosen pack did not find and another did, in words that the
 * first does not know. */
static void borrow(Attempt *to, const Attempt *from)
{
    Reading *a = to->reading;
    const Reading *b = from->reading;

    if (b->warning != WARNING_NONE && foreign(from, to, b->from_warning) &&
        (a->warning == WARNING_NONE || b->warning < a->warning)) {
        a->warning = b->warning;
        a->person = true;
        g_free(a->from_warning);
        a->from_warning = g_strdup(b->from_warning);
    }
    if (a->pain_kind == PAIN_UNSAID && b->pain_kind != PAIN_UNSAID &&
        foreign(from, to, b->from_pain)) {
        a->pain_kind = b->pain_kind;
        a->pain = b->pain;
        a->from_pain = g_strdup(b->from_pain);
    }
    if (a->done == DONE_UNSAID && b->done != DONE_UNSAID && foreign(from, to, b->from_done)) {
        a->done = b->done;
        a->from_done = g_strdup(b->from_done);
    }
    if (a->intensity < 0 && b->intensity >= 0 && foreign(from, to, b->from_intensity)) {
        a->intensity = b->intensity;
        a->from_intensity = g_strdup(b->from_intensity);
    }
    if (a->command == COMMAND_NONE && b->command != COMMAND_NONE &&
        from->known_tokens > to->known_tokens) {
        a->command = b->command;
        a->person |= b->person;
    }
    a->suspend |= b->suspend && from->known_tokens > to->known_tokens;
}

/* The pack that knows most words of the text; the client's own where two know as many. */
static int best_of(const Attempt *attempts, int n)
{
    int best = 0;

    for (int i = 1; i < n; i++)
        if (attempts[i].known_tokens > attempts[best].known_tokens) best = i;
    return best;
}

Reading *reply_read(const Pack *const *packs, int n, const char *text, size_t length)
{
    g_assert(n > 0);
    Attempt first = attempt_read(packs[0], text, length);

    if (n == 1 || (first.reading->rest == NULL && first.known_tokens == first.tokens &&
                   (first.tokens > 0 || first.length == 0))) {
        Reading *only = g_steal_pointer(&first.reading);
        attempt_clear(&first);
        return only;
    }
    Attempt *attempts = g_new0(Attempt, n);
    attempts[0] = first;
    for (int i = 1; i < n; i++)
        attempts[i] = attempt_read(packs[i], text, length);
    int best = best_of(attempts, n);
    for (int i = 0; i < n; i++)
        if (i != best) borrow(&attempts[best], &attempts[i]);
    Reading *reading = g_steal_pointer(&attempts[best].reading);
    for (int i = 0; i < n; i++)
        attempt_clear(&attempts[i]);
    g_free(attempts);
    return reading;
}

void reading_free(Reading *reading)
{
    if (reading == NULL) return;
    g_free(reading->language);
    g_free(reading->rest);
    g_free(reading->from_done);
    g_free(reading->from_intensity);
    g_free(reading->from_pain);
    g_free(reading->from_warning);
    g_free(reading);
}
