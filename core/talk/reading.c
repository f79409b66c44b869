/* SPDX-License-Identifier: Apache-2.0 */
/* One reading of a text by several packs: the client's own language first, another where it knows more
 * of the words; and of two languages in one text both are read. */
#include "core/talk/reading.h"

#include "core/talk/reading_inside.h"

/* A text as one pack sees it. */
typedef struct {
    Work work;
    bool *
        known; /* by byte: part of a word that the pack has as written; NULL while it is the only attempt */
    int tokens, known_tokens; /* but numbers */
    bool read;
} Attempt;

static bool is_known(const Token *token)
{
    return token->digits || token->word != 0 || token->stem != 0;
}

static void count_known(Attempt *attempt)
{
    for (int i = 0; i < token_count(&attempt->work); i++) {
        const Token *token = token_at(&attempt->work, i);
        attempt->tokens += !token->digits;
        attempt->known_tokens += is_known(token) && !token->digits;
    }
}

static void note_known(Attempt *attempt)
{
    const Work *work = &attempt->work;

    attempt->known = g_new0(bool, (gsize)work->length + 1);
    for (int i = 0; i < token_count(work); i++) {
        const Token *token = token_at(work, i);
        if (is_known(token))
            memset(attempt->known + token->from, true, (size_t)(token->to - token->from));
    }
}

static void attempt_open(Attempt *attempt, const Pack *pack, const Cut *cut)
{
    *attempt = (Attempt){0};
    work_open(&attempt->work, pack_rules(pack), cut);
    attempt->work.out->language = g_strdup(pack_language(pack));
    count_known(attempt);
}

static void attempt_read(Attempt *attempt)
{
    work_read(&attempt->work);
    attempt->read = true;
}

static void attempt_close(Attempt *attempt)
{
    work_close(&attempt->work);
    g_free(attempt->known);
}

/* Whether a pack has a word of the text that the first one has not: one may be a sign. */
static bool knows_more(const Attempt *attempt, const Attempt *first)
{
    for (int i = 0; i < token_count(&attempt->work); i++) {
        const Token *token = token_at(&attempt->work, i);
        bool known = (token->word != 0 || token->stem != 0) && !token->digits;
        if (known && !first->known[token->from]) return true;
    }
    return false;
}

/* Whether some word of a reading's source is one that the other pack does not know: it is no false
 * friend. */
static bool foreign(const Attempt *from, const Attempt *to, const char *words)
{
    const char *found = words != NULL ? strstr(from->work.text, words) : NULL;

    if (found == NULL) return false;
    int start = (int)(found - from->work.text), unknown = 0, known = 0;
    for (int b = start; b < start + (int)strlen(words); b++) {
        if ((guchar)from->work.text[b] <= ' ') continue;
        if (to->known[b])
            known++;
        else
            unknown++;
    }
    return unknown > known;
}

/* Whether a sign of the client's own pack stands in words that it has as written, in a text of which it knows at least a third as much as
 * the other pack: "merci, I fell" is the client's own language still. */
static bool own_words(const Attempt *own, const Attempt *other, const char *words)
{
    const char *found = words != NULL ? strstr(own->work.text, words) : NULL;

    if (found == NULL || own->known_tokens * 3 < other->known_tokens) return false;
    for (const char *p = found; p < found + strlen(words); p++)
        if ((guchar)*p > ' ' && !own->known[p - own->work.text]) return false;
    return true;
}

/* The same of what keeps messages from a client. */
static void borrow_bars(Attempt *to, const Attempt *from)
{
    Reading *a = to->work.out;
    const Reading *b = from->work.out;

    if (b->suspend && (from->known_tokens > to->known_tokens ||
                       (!a->death && foreign(from, to, b->from_suspend)))) {
        a->suspend = a->person = true;
        a->death |= b->death;
        g_free(a->from_suspend);
        a->from_suspend = g_strdup(b->from_suspend);
    }
    if (b->wrong_number && !a->wrong_number && foreign(from, to, b->from_wrong_number)) {
        a->wrong_number = a->person = true;
        a->from_wrong_number = g_strdup(b->from_wrong_number);
    }
}

/* A text of two languages: what the chosen pack did not find and another did, in words that the
 * first does not know. own: from is the pack of the client's own language. */
static void borrow(Attempt *to, const Attempt *from, bool own)
{
    Reading *a = to->work.out;
    const Reading *b = from->work.out;

    if (b->warning != WARNING_NONE &&
        ((own && own_words(from, to, b->from_warning)) || foreign(from, to, b->from_warning)) &&
        (a->warning == WARNING_NONE || b->warning < a->warning)) {
        a->warning = b->warning;
        a->person = true;
        a->own_sign = b->own_sign;
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
    borrow_bars(to, from);
}

/* The pack that knows most words of the text; the client's own where two know as many. */
static int best_of(const Attempt *attempts, int n)
{
    int best = 0;

    for (int i = 1; i < n; i++)
        if (attempts[i].known_tokens > attempts[best].known_tokens) best = i;
    return best;
}

/* Whether the client's own pack leaves no word to another. */
static bool suffices(const Attempt *first)
{
    return first->known_tokens == first->tokens && (first->tokens > 0 || first->work.length == 0);
}

Reading *reply_read(const Pack *const *packs, int n, const char *text, size_t length)
{
    g_assert(n > 0);
    g_autofree Attempt *all = NULL;
    Attempt first, *attempts = &first;
    int opened = 1;
    Cut cut;

    text_cut(packs, n, text, length, &cut);
    attempt_open(&first, packs[0], &cut);
    if (!suffices(&first)) {
        attempts = all = g_new(Attempt, n);
        attempts[0] = first;
        for (; opened < n; opened++)
            attempt_open(&attempts[opened], packs[opened], &cut);
        for (int i = 0; i < opened; i++)
            note_known(&attempts[i]);
    }
    int best = best_of(attempts, opened);
    for (int i = 0; i < opened; i++)
        if (i == 0 || i == best || knows_more(&attempts[i], &attempts[0]))
            attempt_read(&attempts[i]);
    for (int i = 0; i < opened; i++)
        if (i != best && attempts[i].read) borrow(&attempts[best], &attempts[i], i == 0);
    Reading *reading = g_steal_pointer(&attempts[best].work.out);
    for (int i = 0; i < opened; i++)
        attempt_close(&attempts[i]);
    g_free(cut.text);
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
    g_free(reading->from_kin_warning);
    g_free(reading->from_suspend);
    g_free(reading->from_wrong_number);
    g_free(reading);
}
