/* SPDX-License-Identifier: Apache-2.0 */
/* One text by one pack, from its bytes to what it says and what it leaves. */
#include "core/talk/reading_inside.h"

void work_from(Work *work, char **field, int start, int end)
{
    int from = token_at(work, start)->from, to = token_at(work, end - 1)->to;

    g_free(*field);
    *field = to > from ? g_strndup(work->text + from, (gsize)(to - from)) : NULL;
}

static bool filler(const Work *work, int i)
{
    static const Role FILLERS[] = {ROLE_FILL, ROLE_THANKS, ROLE_AND, ROLE_OR, ROLE_BUT, ROLE_BREAK};

    return role_covers_any(work, FILLERS, G_N_ELEMENTS(FILLERS), i);
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
    GString *rest = NULL;
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
            if (rest == NULL)
                rest = g_string_new(NULL);
            else
                g_string_append(rest, " / ");
            g_string_append_len(rest, work->text + token_at(work, first)->from,
                                token_at(work, last)->to - token_at(work, first)->from);
        }
        from = to;
    }
    return rest != NULL ? g_string_free(rest, FALSE) : NULL;
}

static bool says_nothing(const Work *work)
{
    const Reading *out = work->out;

    return out->done == DONE_UNSAID && out->intensity < 0 && out->pain_kind == PAIN_UNSAID &&
           out->warning == WARNING_NONE && out->command == COMMAND_NONE && !out->suspend;
}

/* Nothing at all came of a text that has words of its own. */
static bool unread(const Work *work)
{
    bool polite =
        mark_first(work, ROLE_THANKS) >= 0 || mark_first(work, ROLE_LATER) >= 0 || work->other_day;

    return !polite && work->out->rest != NULL && says_nothing(work);
}

/* What is left over for a person: of a text that nothing came of, all. */
static void leave(Work *work)
{
    Reading *out = work->out;
    int count = token_count(work);

    if (says_nothing(work)) bars_say_pets(work);
    out->rest = rest_of(work);
    bool nothing = says_nothing(work);
    out->denies = role_occurs(work, ROLE_NO) || role_occurs(work, ROLE_NOT);
    out->unclear =
        nothing && !work->for_person && !bars_said(work) && (work->unsure || unread(work));
    if (!unread(work)) return;
    out->person = true;
    work_from(work, &out->rest, 0, count);
}

void work_open(Work *work, const Rules *rules, const Cut *cut)
{
    *work = (Work){.rules = rules,
                   .out = g_new0(Reading, 1),
                   .text = cut->text,
                   .length = cut->length,
                   .emptied = cut->emptied,
                   .marked_up = cut->marked_up};
    work->out->intensity = -1;
    work->tokens = g_array_sized_new(FALSE, FALSE, sizeof(Token), 32);
    work->folded = g_string_sized_new((gsize)cut->length + 16);
    tokens_make(work);
}

/* What is kept by token, the first marks and what the chart needs lie in one block. */
static void make_room(Work *work)
{
    gsize n = (gsize)token_count(work) + 1, chart = chart_room(work->rules, n);
    gsize kept = n * (sizeof(RoleSet) + sizeof(int) + sizeof(bool) + 2 * ROLE_COUNT);

    work->marks_max = (int)n * READ_MARKS_PER_TOKEN;
    work->marks_room = work->marks_max / 8;
    work->room = g_malloc(chart + sizeof(Mark) * (gsize)work->marks_room + kept);
    work->marks = (Mark *)(void *)((char *)work->room + chart);
    work->covers = (RoleSet *)(void *)(work->marks + work->marks_room);
    work->number_of = (int *)(void *)(work->covers + n);
    work->said = (bool *)(work->number_of + n);
    work->starts = (guint8 *)(work->said + n);
    work->ends = work->starts + n * ROLE_COUNT;
    memset(work->covers, 0, kept);
    work->numbers = g_array_sized_new(FALSE, FALSE, sizeof(Number), 8);
    for (int role = 0; role < ROLE_COUNT; role++)
        work->first_of_role[role] = -1;
}

void work_read(Work *work)
{
    tokens_guess(work);
    make_room(work);
    numbers_find(work);
    chart_make(work);
    numbers_type(work);
    scope_prepare(work);
    commands_read(work);
    if (!work->out->bare_command) {
        signs_read(work);
        report_read(work);
        bars_read_number(work);
    }
    for (int i = mark_first(work, ROLE_THANKS); i >= 0; i = mark_at(work, i)->next)
        mark_say(work, mark_at(work, i));
    leave(work);
    work->out->answer = label_answer(work);
    work->out->person |= work->out->warning != WARNING_NONE || work->emptied || work->marked_up;
}

void work_close(Work *work)
{
    reading_free(work->out);
    g_string_free(work->folded, TRUE);
    g_array_unref(work->tokens);
    g_free(work->more_marks);
    if (work->numbers != NULL) g_array_unref(work->numbers);
    g_free(work->room);
}
