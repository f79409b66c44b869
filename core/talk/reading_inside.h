/* SPDX-License-Identifier: Apache-2.0 */
/* One reply while it is being read, for the reading files alone. A text becomes tokens; the grammar
 * of a pack puts marks on runs of tokens; numbers get a kind; then signs, commands and the report
 * are taken from what is marked. */
#ifndef OSIER_CORE_TALK_READING_INSIDE_H
#define OSIER_CORE_TALK_READING_INSIDE_H

#include "core/talk/reading.h"
#include "core/talk/rules_grammar.h"

enum { READ_BYTES_MAX = 16384, READ_MARKS_PER_TOKEN = 96 };
enum { READ_REACH = 16 }; /* tokens over which what holds for a mark is looked for */

typedef enum { LEVEL_NONE, LEVEL_CLAUSE, LEVEL_SENTENCE } Level;

typedef struct {
    Symbol word;  /* as written, or what it is a misspelling of; 0 where unknown */
    Symbol stem;  /* the longest stem that it begins with, or 0 */
    guint8 level; /* the break before it (Level) */
    char joint;  /* punctuation between it and the one before, with no space on either side, or 0 */
    char before; /* the last punctuation before it, spaces or not, or 0 */
    bool spaced; /* space before it */
    bool digits;
    bool fuzzy; /* read through spelling tolerance */
    bool heard; /* read by how it sounds */
    bool minus; /* a minus sign of its own */
    bool asked; /* its sentence ends in a question mark */
    int digit_count;
    double value; /* of digits */
    int from, to; /* bytes of the text */
    int folded;   /* where its word begins in Work.folded */
    guint8 folded_length;
} Token;

/* A class that holds for tokens start to end - 1. mask: which of them, counted from start, the
 * pattern names itself. */
typedef struct {
    Kind kind;
    guint16 start, end;
    guint64 mask;
    int next;   /* index of the next mark of the same role, -1 for none */
    int before; /* of the one of the same kind that was put before it in the sentence, -1 for none */
} Mark;

typedef enum {
    NUMBER_BARE,
    NUMBER_RATING, /* out of ten */
    NUMBER_COUNT,  /* of something, a time, a date, a day */
    NUMBER_OFF,    /* meant as a rating, impossible or on another scale */
    NUMBER_UNSURE  /* may be a rating */
} NumberKind;

typedef struct {
    int first, end; /* tokens */
    double value;
    NumberKind kind;
    bool whole;   /* no range, fraction or decimal yet */
    bool weak;    /* a word or numeral that is as often something else */
    bool heard;   /* a word that dictation writes for a number */
    bool dose;    /* counts repetitions, sets or seconds */
    int label;    /* 0 none, 1 stretch, 2 pain */
    int side;     /* 0 none, 1 left, 2 right */
    bool placed;  /* a rating, whatever words stand around it */
    bool dropped; /* corrected, or of another day or person */
} Number;

/* A bit for each Role. */
typedef struct {
    guint64 bits[2];
} RoleSet;
G_STATIC_ASSERT(ROLE_COUNT <= 128);

/* What the client wrote: valid UTF-8, without what is quoted. */
typedef struct {
    char *text; /* g_free */
    int length;
    bool emptied;   /* all of it was quoted */
    bool marked_up; /* mark-up was left out of it */
} Cut;

typedef struct {
    const Rules *rules;
    const char *text; /* lent, as its length */
    int length;
    bool emptied, marked_up;
    GString *folded; /* the words of the tokens */
    GArray *tokens;  /* of Token */
    Mark *marks;
    int n_marks, marks_room, marks_max;
    Mark *more_marks; /* where they lie once they were more than room has place for; else NULL */
    GArray *numbers;  /* of Number */
    int first_of_role[ROLE_COUNT]; /* index of a mark, -1 none */
    RoleSet occurring;             /* those that have any */
    guint8 *starts;  /* by token and role: the length of the longest mark from there */
    guint8 *ends;    /* the same of those that end before the token */
    bool *said;      /* by token: some rule read it */
    RoleSet *covers; /* by token: the roles of the marks that name it */
    int *number_of;  /* by token: the index of the number over it, -1 none */
    void *room;      /* where the chart works, then the first marks and the five above lie */
    bool question;
    bool told;         /* a relative writes of the client */
    bool for_person;   /* something in it is for a person, whatever else was read */
    bool corrected;    /* a number took the place of another */
    bool unsure;       /* numbers that may be ratings or not */
    bool worrying;     /* words that make pain a matter for a person */
    bool bare_stretch; /* the stretch is a number with no word of its own */
    int report;        /* the first token of a report */
    int rated_from;    /* the first token of the stretch's number */
    bool other_day;    /* something was said of another day's session */
    bool turned;       /* numbers are of two sessions, so that none rates today's */
    bool pieces;       /* numbers name pieces of the session, and one was left out */
    Reading *out;
} Work;

/* What a work holds, asked for at every step and so in line. */
static inline Token *token_at(const Work *work, int i)
{
    return &g_array_index(work->tokens, Token, i);
}

static inline int token_count(const Work *work)
{
    return (int)work->tokens->len;
}

/* What parts a token from the one before it; behind the last token a sentence ends. */
static inline int token_level(const Work *work, int i)
{
    return i < token_count(work) ? token_at(work, i)->level : LEVEL_SENTENCE;
}

static inline Number *number_at(const Work *work, int i)
{
    return &g_array_index(work->numbers, Number, i);
}

static inline const Mark *mark_at(const Work *work, int i)
{
    return &work->marks[i];
}

/* Whether a token is one that the mark's pattern names, and not of a gap in it. */
static inline bool mark_names(const Mark *mark, int token)
{
    return token >= mark->start && token < mark->end && token - mark->start < 64 &&
           (mark->mask >> (token - mark->start) & 1) != 0;
}

/* The first mark of a role, -1 for none; go on by next. */
static inline int mark_first(const Work *work, Role role)
{
    return work->first_of_role[role];
}

/* Whether there is any mark of a role: most texts have few of them. */
static inline bool role_occurs(const Work *work, Role role)
{
    return work->first_of_role[role] >= 0;
}

/* The length of the role's longest mark that begins at a token, or ends before one; 0 for none. */
static inline int role_starts(const Work *work, Role role, int token)
{
    if (token < 0 || token >= token_count(work)) return 0;
    return work->starts[token * ROLE_COUNT + (int)role];
}

static inline int role_ends(const Work *work, Role role, int end)
{
    if (end < 0 || end > token_count(work)) return 0;
    return work->ends[end * ROLE_COUNT + (int)role];
}

/* Whether a mark of the role names a token. */
static inline bool role_covers(const Work *work, Role role, int token)
{
    return (work->covers[token].bits[role / 64] >> (role % 64) & 1) != 0;
}

/* Whether a mark of one of so many roles does. */
static inline bool role_covers_any(const Work *work, const Role *roles, size_t count, int token)
{
    for (size_t i = 0; i < count; i++)
        if (role_covers(work, roles[i], token)) return true;
    return false;
}

/* From here on no mark of the role names the token. */
static inline void role_drop(Work *work, Role role, int token)
{
    work->covers[token].bits[role / 64] &= ~(G_GUINT64_CONSTANT(1) << (role % 64));
}

/* reading_work.c: a text split into tokens, then read into out. */
void work_open(Work *work, const Rules *rules, const Cut *cut);
void work_read(Work *work);
void work_close(Work *work);

/* reading_text.c: what the client wrote of a text; a line is none of theirs where any of the packs
 * says so. */
void text_cut(const Pack *const *packs, int n, const char *text, size_t length, Cut *cut);

/* reading_token.c: fills work->tokens with words as they are written. */
void tokens_make(Work *work);
/* reading_guess.c: gives those that the pack has not the words that they are meant to be. */
void tokens_guess(Work *work);

/* reading_spoken.c: tokens that are punctuation become the breaks that they mean. */
void punctuation_hear(Work *work);

/* reading_hurt.c: is the mark of a sign no more than where it does not hurt; and does it begin anew behind a denial of pain that is whole,
 * so that nobody knows whether that denies it too? */
bool sign_only_hurts_not(const Work *work, ReadWarning kind, const Mark *sign);
bool sign_begins_anew(const Work *work, const Mark *sign);

/* reading_number.c: before the grammar runs. */
void numbers_find(Work *work);
/* reading_digits.c: what a row of joined digits from token i on counts, where it is not what number says already. How many tokens
 * are used. */
int number_read_digits(const Work *work, int i, Number *number);
/* reading_join.c: numbers that are one; a word that dictation writes for a number is dropped where it is none. */
void numbers_join(Work *work);
/* "come down from a six to a two": it is what the rating was, and the next one what it is. */
bool number_left(const Work *work, const Number *number);
/* reading_type.c: what kind each is, after the grammar. */
void numbers_type(Work *work);
/* The number over a token, or NULL. */
const Number *number_over(const Work *work, int token);

/* reading_chart.c: the bytes at the start of work->room that it needs for so many tokens, a multiple of 8. */
gsize chart_room(const Rules *rules, gsize tokens);
/* Puts all marks of the pack's grammar on the tokens. */
void chart_make(Work *work);

/* reading_role.c: what the marks say. roles_cover once, when all are made. */
void roles_cover(Work *work);
/* The first token of the sentence of a mark, and the one behind its last. */
void mark_sentence(const Work *work, const Mark *mark, int *first, int *end);
/* Marks the tokens of a mark as read. */
void mark_say(Work *work, const Mark *mark);
/* Whether a mark of the role says nothing, for it holds words that are meant as they stand. */
bool mark_void(const Work *work, Role role, const Mark *mark);
/* Whether a mark of the role names a token that the mark names. */
bool role_touches(const Work *work, Role role, const Mark *mark);

/* reading_scope.c: what holds for a mark. */
typedef struct {
    bool idiom, denied, other, other_day, long_ago, hypothetical, near, harmless, story;
    bool kin;               /* where another's: one of the client's family */
    bool day_apart;         /* where of another day: one that is told something else of */
    bool apart;             /* and told in a clause before that of the mark */
    int denial, denial_end; /* the tokens that deny it */
} Scope;
Scope scope_of(const Work *work, const Mark *mark);
/* The same for a warning sign, which no figure of speech takes that shares but a word with it. */
Scope scope_of_sign(const Work *work, const Mark *mark);
/* Marks the tokens of a mark, and of what denies it, as read. */
void scope_say(Work *work, const Mark *mark, const Scope *scope);

/* reading_whose.c: whether a relative writes of the client, once; whether a mark is told of somebody else, whom scope then
 * tells of. */
void scope_prepare(Work *work);
bool scope_others(const Work *work, const Mark *mark, Scope *scope);

/* reading_bar.c: words of a death, a hospital or an illness; before the report. */
void bars_read(Work *work);
/* After the report: words of somebody who has the client's number. */
void bars_read_number(Work *work);
/* Whether a sign is told by the one who has it, and not of somebody who died. */
bool bars_own_sign(const Work *work, const Mark *mark, const Scope *scope);
/* Marks the sentences of an animal's death as read: where nothing else was told, they are enough. */
void bars_say_pets(Work *work);
/* Whether there are such words at all, whoever they are of: nothing is asked back beside them. */
bool bars_said(const Work *work);

/* reading_sign.c: warnings, concerns, commands, questions. */
void signs_read(Work *work);
void commands_read(Work *work);

/* reading_rank.c: whether a mark of the report is part of something else, such as a sign or a question. */
bool report_outranked(const Work *work, Role role, const Mark *mark);
/* "is it done for both legs?": what is asked is not told, unless the question comes in a clause behind it. */
bool report_asked(const Work *work, const Mark *mark);
/* "10 of 10 repetitions": a mark of a part that tells all of them. */
bool report_is_all(const Work *work, const Mark *mark);
/* "lost my words for ten minutes", "for 20 seconds?": what is counted is no set, but part of a sign or a question. */
bool dose_of_else(const Work *work, const Number *number);

/* reading_part.c: whether one side was done and the other not. */
bool report_parted(const Work *work);

/* reading_over.c: of a pain: whether it is over by the end of its sentence. */
bool number_gone_behind(const Work *work, const Number *number);
/* "the pain goes, but it comes back": a mark of a pain that is there, which holds the words of one that has gone. */
bool pain_came_back(const Work *work, const Mark *mark);

/* reading_report.c: done, intensity, pain. */
void report_read(Work *work);

enum { LABEL_NONE, LABEL_STRETCH, LABEL_PAIN }; /* of a number */
enum { SIDE_NONE, SIDE_LEFT, SIDE_RIGHT };

/* reading_label.c: gives each number its word for stretch or pain, and its side. */
void labels_give(Work *work);

/* Whether the text says "stretch" or "pain" and no more, a number aside. */
ReadAnswer label_answer(const Work *work);

/* reading_drop.c: drops the numbers that are another's, another day's, or part of some other phrase. */
void numbers_drop(Work *work);
/* "The physio asked for 5 but today it was 4": behind a "but" and a word for today what is told is the client's. */
bool own_again(const Work *work, int token);
/* "the baby sleeps, D 4": a letter for yes that opens its clause, which is the sender's whoever was told of before. */
bool answer_by_letter(const Work *work, int token);
/* Whether it is a share of the session: "half of them" in digits, "2/3 of the moves". */
bool number_is_share(const Work *work, const Number *number);

/* reading_correct.c: drops the numbers that later ones take the place of. */
void numbers_correct(Work *work);
/* reading_turn.c: once they have their labels, those of two that are told of two people or of two parts of the day. */
void numbers_tell_apart(Work *work);
/* "4 this morning, 6 tonight": two numbers without a word of their own are of two sessions, and no pair. */
bool number_told_by_turns(const Work *work, const Number *a, const Number *b);
/* "5 before lunch and 7 after": so is one that another stands before, or behind, which counts something by its words. */
bool number_beside_turn(const Work *work, const Number *number);
/* Whether two that count something else stand by such words, and may be ratings. */
bool turns_of_counts(const Work *work);

/* reading_rate.c: which number is the stretch and which the pain. */
void rates_read(Work *work);
/* Whether a number may be a rating at all. */
bool number_rateable(const Number *number);

/* reading_among.c. Whether words of their own stand from one token up to another. */
bool number_words_between(const Work *work, int from, int to);
/* Whether its word for stretch or pain, told before it, makes it a rating, whatever comes behind it. */
bool number_told_by_word(const Work *work, const Number *number);
/* Of a rating without a word: whether it is of the pain that is told in its sentence, with no session behind; or in the
 * clause before it. */
bool number_rates_pain(const Work *work, const Number *number);
bool number_rates_pain_before(const Work *work, const Number *number);
/* Of two: whether the first is told of something else; they follow one another; the second says the first again. */
bool number_told_elsewhere(const Work *work, const Number *a, const Number *b);
bool number_in_turn(const Work *work, const Number *a, const Number *b);
bool number_said_again(const Work *work, const Number *a, const Number *b);
/* Whether it stands right behind the letter that opens the text, and nothing more in its sentence. */
bool number_answers_letter(const Work *work, const Number *number);

/* reading_place.c: whether the word behind a number, the word before it, and all around it leave it a
 * rating; whether it is a clause by itself. */
bool number_behind_known(const Work *work, const Number *number);
bool number_before_known(const Work *work, const Number *number);
bool number_among_known(const Work *work, const Number *number);
/* Whether the words around it do so, wherever it stands. */
bool number_among_words(const Work *work, const Number *number);
bool number_stands_alone(const Work *work, const Number *number);
/* "5 0 the ambulance outside is not for me", "D 5 P1 from the bus": two numbers at the very start of a text, or behind its
 * "D" alone, in digits, are the report, whatever comes then; so are they as "4/2". */
bool number_leads(const Work *work, const Number *number);
/* "D4 legs like lead": it stands behind a letter for yes that opens the text. */
bool number_behind_letter(const Work *work, const Number *number);
/* "3-0 to the lads": two numbers that a hyphen joins, before words that leave them no rating. */
bool number_is_score(const Work *work, const Number *number, const Number *next);

/* Keeps the words of tokens start to end - 1 as the source of a field, replacing what is there. */
void work_from(Work *work, char **field, int start, int end);

#endif
