/* SPDX-License-Identifier: Apache-2.0 */
/* The compiled form of core/talk/rules.h, for the reader alone: symbols, patterns, and the way from
 * a word to a symbol. */
#ifndef OSIER_CORE_TALK_RULES_GRAMMAR_H
#define OSIER_CORE_TALK_RULES_GRAMMAR_H

#include "core/talk/rules.h"
#include "core/talk/rules_names.h"

typedef guint16 Symbol; /* a word or a class; 0 is none */
/* The same as rows speak of it, numbered for them alone: those that one word is lie close together. */
typedef guint16 Kind;

enum { SYMBOL_MOST = G_MAXUINT16 - 1, STEM_BYTES_MOST = 63, ALPHABET = 26 };

/* The classes that the engine knows by name. A pack has all of them, if need be empty. */
typedef enum {
    /* how a text hangs together */
    ROLE_NOT,       /* turns what follows in its clause into its opposite */
    ROLE_NOT_VOID,  /* holds a word of ROLE_NOT that denies nothing: "not sure" */
    ROLE_NOT_AFTER, /* denies what stands just before it, at the end of a clause: "pain none" */
    ROLE_NOT_FAR,   /* denies across a new subject: "do not think" */
    ROLE_BUT,       /* ends the reach of a negation */
    ROLE_BREAK,     /* the same, but a pattern may skip over it */
    ROLE_AND,
    ROLE_OR,           /* carries a negation along a list */
    ROLE_SUBJECT,      /* begins a clause of its own: "I", "my" */
    ROLE_SELF,         /* the client */
    ROLE_OTHER,        /* other people and animals */
    ROLE_KIN,          /* of these, the client's family */
    ROLE_OTHER_BEHIND, /* the same where it may stand behind its verb */
    ROLE_THEIRS,       /* stands for somebody of the sentence before: "her" wrist */
    ROLE_HANDLED,      /* before somebody who is only lifted, held or minded: "lifted" the baby */
    ROLE_CLIENT,       /* the client, told by a relative */
    ROLE_TODAY,
    ROLE_OTHER_DAY, /* yesterday, last week: no report for today */
    ROLE_LONG_AGO,  /* too long ago for a sign */
    ROLE_IF,        /* what follows has not happened */
    ROLE_IF_VOID,   /* holds a word of ROLE_IF that supposes nothing: "as if" */
    ROLE_NEAR,      /* what follows nearly happened */
    ROLE_PLAIN, /* words that void a harmless cause, a figure of speech or a near sign which holds one of them */
    ROLE_HARMLESS, /* a harmless cause, given by the client */
    ROLE_IDIOM,    /* a figure of speech: nothing is read from its words */
    ROLE_HOMONYM, /* names a part of the body or, within a figure of speech, something else: "back" home */
    ROLE_STORY, /* begins what was read, watched or dreamt: a sign told behind it is nobody's */
    ROLE_LEAD,  /* may stand before the start of a clause */
    ROLE_TAIL,  /* may stand behind its end */
    ROLE_FILL,  /* says nothing of its own */
    ROLE_THANKS,
    /* the report */
    ROLE_YES,
    ROLE_YES_LAST, /* yes where it ends the text and nothing else tells: "D" */
    ROLE_NO,
    ROLE_PARTLY,
    ROLE_WHOLE, /* two halves that make a whole */
    ROLE_LATER,
    ROLE_NOT_TODAY, /* no, though it speaks of later: tomorrow instead */
    ROLE_DID,       /* yes; no where negated */
    ROLE_PAIN,      /* some; none where negated */
    ROLE_NOT_PAIN,  /* a pain word that speaks of none */
    ROLE_PAIN_FREE,
    ROLE_PAIN_SOME, /* some, in spite of a negation in it */
    ROLE_PAIN_GONE, /* there was some: none */
    ROLE_PAIN_LABEL,
    ROLE_STRETCH_LABEL,
    ROLE_LEFT,
    ROLE_RIGHT,
    ROLE_CORRECT, /* what follows replaces what went before */
    /* numbers */
    ROLE_OUT_OF,
    ROLE_RANGE,
    ROLE_BETWEEN,       /* "between" 4 and 5 */
    ROLE_POINT,         /* a spoken decimal point */
    ROLE_HALF,          /* "and a half" */
    ROLE_UNIT,          /* behind a number: not a rating */
    ROLE_DOSE_UNIT,     /* the same, and a described set */
    ROLE_GLUED_UNIT,    /* a unit where no space stands before it: "30s" */
    ROLE_COUNT_BEFORE,  /* before a number: not a rating */
    ROLE_STANDS_FOR,    /* before a number word that stands for a noun: "the wall" one */
    ROLE_NUMBER_BEFORE, /* may stand before a bare rating */
    ROLE_NUMBER_AFTER,  /* may stand behind a bare rating */
    ROLE_NUMBER_LABEL,  /* behind a number: what it rates, "for the pain" */
    ROLE_RATED_AS, /* before a number at the end of its clause: a rating among any words, "a" */
    ROLE_NUMBER_PLACE, /* behind a number that its word leads to: where or when that is felt, "in", "while" */
    ROLE_REPORTS, /* before what one of the family reports for the client: "says" */
    ROLE_VERDICT, /* before a number that sums up those before it: "call it" */
    ROLE_TURN,    /* tells which of several sessions a number is of: "this evening", "the second" */
    ROLE_TURNS,   /* tells of several by itself: "morning and evening", "twice" */
    ROLE_PRONOUN, /* stands for somebody else: "he", "hers" */
    /* warning signs, graver first, in the order of ReadWarning */
    ROLE_CRISIS,
    ROLE_HEART,
    ROLE_STROKE,
    ROLE_CAUDA,
    ROLE_CLOT,
    ROLE_FRACTURE,
    ROLE_NERVE,
    ROLE_FALL,
    /* for a person */
    ROLE_NEAR_SIGN, /* nearly a sign, or one explained harmlessly: takes the sign in it away */
    ROLE_BACK_PAIN, /* with a fall: a fracture until shown otherwise */
    ROLE_DOUBT,     /* may be a sign */
    ROLE_CONCERN,   /* fever, weight, pain at night, abuse */
    ROLE_SUSPEND,   /* a hospital stay, illness, of the client or one of the family */
    ROLE_DEATH,     /* a death, whoever died */
    ROLE_PET_LOSS,  /* an animal's: takes the death in it away */
    ROLE_WORRY,     /* makes "some" pain a matter for a person */
    ROLE_ASK,       /* a question or request */
    ROLE_AWAY,
    ROLE_WRONG,
    ROLE_WRONG_NUMBER, /* whoever writes is not the client, and has the client's number */
    ROLE_NOT_NAMED,    /* the same where a name follows: "I am not" Ada */
    ROLE_GUESS,
    /* commands */
    ROLE_STOP_WORD, /* alone */
    ROLE_STOP_ASK,  /* in a sentence */
    ROLE_PAUSE,     /* for a while only */
    ROLE_START_WORD,
    ROLE_START_ASK,
    ROLE_HELP_WORD,
    ROLE_HELP_ASK,
    ROLE_COUNT
} Role;

/* Lines that are none of the client's words. */
typedef enum {
    CUT_QUOTED,  /* a line above quoted mail */
    CUT_HEADING, /* such a line, or two lines that make one */
    CUT_SIGNATURE,
    CUT_LINE,     /* no part of the answer */
    CUT_REACTION, /* a phone's reaction that quotes the reminder */
    CUT_KINDS
} CutKind;

enum { LINE_START = 8 };

enum { PATTERN_ELEMENTS = 12, PATTERN_GAPS = 4, PATTERN_REACH = 60 };

typedef enum { EDGE_NONE, EDGE_CLAUSE, EDGE_TEXT } Edge;

/* A pattern as it is written. */
typedef struct {
    Symbol symbol;
    guint8 gap; /* words that may stand before it */
    bool far;   /* with commas between */
    bool over;  /* and with words of ROLE_BUT */
} Part;

typedef struct {
    Symbol class;
    guint8 n;
    guint8 start, end; /* Edge */
    guint32 first;     /* of its parts */
} Written;

/* The same as a text is held against it. */
typedef struct {
    Kind kind;
    guint8 gap;
    bool far : 1;
    bool over : 1;
} Element;

enum { ROW_FEW = 2 };

typedef struct {
    Kind class;
    guint8 n;
    guint8 start : 4; /* Edge */
    guint8 end : 4;
    guint32 more;         /* in Rules.elements, those behind the first few */
    Element few[ROW_FEW]; /* most rows have no others, and so lie in one place */
} Row;

enum { ROW_BITS = 22 };

/* A row that waits for a kind. rare, next: two of its other parts that only words make by themselves, so that their absence is
 * known before any row has run; 0 where there is none such. alike: how many follow with the same rare one. */
typedef struct {
    guint32 row : ROW_BITS;
    guint32 alike : 32 - ROW_BITS;
    Kind rare, next;
} Anchor;

/* Some of the kinds that a word is: a bit each of 32 that follow one another. */
typedef struct {
    guint32 word; /* of a set by kind */
    guint32 bits;
} Spread;

/* What a word, a stem or a number is wherever it stands. Each list ends where that of the next symbol begins. */
typedef struct {
    guint32 spread; /* in Rules.spread: itself and all classes that it is */
    guint32 known;  /* in Rules.known: of these, those of a role */
    guint32 waking; /* in Rules.waking: the rows that are anchored to them */
    Kind kind;      /* itself, or 0 where no row speaks of it */
} Word;

/* A word, a stem ("stem*") or a class. */
typedef struct {
    const char *text; /* folded, or the name of the class; in Rules.texts */
    bool class;
    bool stem;
    bool common;   /* not a target of spelling tolerance */
    bool apart;    /* a word of its own, for which no stem stands */
    bool weak;     /* a number word that is as often something else */
    bool spoken;   /* begins a mark that dictation writes as a word */
    double number; /* of a number word, or -1 */
    double heard;  /* of a word that dictation writes for a number word, or -1 */
    int role;      /* Role of a class that the engine knows, or -1 */
} Entry;

enum { SPELLING_FEW = 16 };

/* A folded spelling: how a token is found. */
typedef struct {
    guint32 hash;
    guint16 length;
    Symbol word; /* 0 where only a rewrite, or a word of other use */
    Symbol stem; /* the longest stem that it begins with, or 0 */
    Symbol own;  /* the stem that it is itself, or 0 */
    /* of what it stands for, in Rules.others: a count, then words and stems; or 0 */
    guint32 others;
    union {
        char few[SPELLING_FEW]; /* its text where it is no longer: one look at memory tells all */
        guint32 at;             /* of a longer one, in Rules.pool */
    } text;
} Spelling;

/* "'s" of "coat's": a word that ends so is the word before it, and then others. */
typedef struct {
    const char *text; /* in Rules.texts */
    int length;
    guint32 others; /* in Rules.others */
} Ending;

/* The hash of what is left of a word less one or two letters. */
typedef struct {
    guint32 hash;
    guint32 target; /* in Rules.targets */
} Near;

/* What a spelling stands for. */
typedef struct {
    const char *text; /* in Rules.texts */
    char **words;     /* folded, NULL-ended */
} Rewrite;

typedef struct {
    GArray *list; /* of Rewrite, in the order of the pack */
    Names at;     /* by text, to its number in the list and one */
} Rewrites;

/* What is there only while a pack is compiled. */
typedef struct {
    Names words, stems, classes; /* to Symbol */
    Rewrites rewrites, tails;    /* of spellings; of endings */
    Written *written;            /* the patterns in the order of the pack */
    guint n_written, written_room;
    Part *parts; /* theirs */
    guint n_parts, parts_room;
} Draft;

struct Rules {
    GArray *entries;     /* of Entry, by Symbol; the first is empty */
    GStringChunk *texts; /* where theirs lie */
    Draft *draft;        /* NULL once all is compiled */
    GHashTable *spoken;  /* one word, or two in 16 bits each, to a punctuation character */
    Symbol role[ROLE_COUNT];
    Symbol between[ALPHABET]; /* by letter: the word that it stands for between two words, or 0 */
    Symbol number;            /* the class "#" */
    Symbol year;              /* the class "####": a year up to 2019 */
    bool apostrophe_splits;
    bool decimal_comma;
    bool figures_whole; /* a figure of speech takes a sign only where it holds all its words */

    /* The grammar: rows in an order in which each finds its classes made. */
    Row *rows;
    guint n_rows;
    guint edge_rows; /* the first of these make all that the edges of a clause are told by */
    Element *elements;
    guint n_kinds;     /* kind 0 counted */
    gint8 *role_of;    /* by kind: Role of a class that the engine knows, or -1 */
    guint32 *alone_at; /* by kind of a class, where those that it is by itself begin... */
    Kind *alone;       /* ...here; they end where those of the next kind begin */
    guint32
        *anchor_at;  /* by kind, where the rows begin that are looked at where a row makes it... */
    Anchor *anchors; /* ...here */
    Word *words;     /* by symbol, and one more */
    Spread *spread;
    Kind *known;
    Anchor *waking;

    /* Spellings, by open addressing. */
    Spelling *spellings;
    guint32 spelling_mask;
    GString *pool;
    guint32 *others;
    Ending *endings;
    guint n_endings;
    guint64 stem_lengths; /* bit by length in bytes */
    bool full;            /* there were more words and classes than symbols */
    GPtrArray *targets; /* of spelling tolerance: texts, those of words by their symbols, or NULL */
    /* by the first bits of their hashes, those of a bucket in the order of the targets */
    Near *near;
    guint32 *near_at;     /* by these, where a bucket begins */
    guint64 *near_filter; /* bit by hash: whether there is any */

    /* What is heard alike: of Sound, those of a letter together, the longest first; words and stems by what is heard of them, or
     * NULL. */
    GArray *sounds;
    guint sounds_of[ALPHABET + 1]; /* by letter: where its own begin; those of the next follow */
    GHashTable *heard, *heard_stems;

    GArray *joined,
        *diminutives; /* of Affix: small words written onto others, endings that make a word small */

    GPtrArray *cut[CUT_KINDS]; /* of CutPattern */
    guint64 cut_starts[65536 /
                       64]; /* bit by the first two bytes of a line that a pattern may hold for */
};

/* The name of a role in a pack. */
const char *rules_role_name(Role role);

/* The symbol of a class or word, made where there is none; for compiling alone, as entries move. */
Symbol rules_class(Rules *rules, const char *name, size_t length);
Symbol rules_word(Rules *rules, const char *folded, size_t length);
Symbol rules_stem(Rules *rules, const char *folded, size_t length);
/* The longest stem that a stem begins with, or 0. */
Symbol rules_shorter_stem(const Rules *rules, Symbol stem);

static inline Entry *rules_entry(const Rules *rules, Symbol symbol)
{
    return &g_array_index(rules->entries, Entry, symbol);
}

static inline const Element *row_element(const Rules *rules, const Row *row, int k)
{
    return k < ROW_FEW ? &row->few[k] : &rules->elements[row->more + (guint)(k - ROW_FEW)];
}

/* Words that a folded word stands for, NULL-ended, or NULL. */
char **rules_rewrite(const Rules *rules, const char *folded, size_t length);

/* rules_order.c, once all patterns are written: compiles them. The name of a class that is made of itself, or NULL. */
const char *rules_order(Rules *rules);

/* rules_words.c, once all words are known. */
void rules_index(Rules *rules);
guint32 rules_hash(const char *text, int length);
/* The hash of more text behind what has that one: FNV-1a, 32 bits (draft-eastlake-fnv, section 2). */
static inline guint32 rules_hash_on(guint32 hash, const char *text, int length)
{
    for (int i = 0; i < length; i++)
        hash = (hash ^ (guchar)text[i]) * 16777619u;
    return hash;
}
/* Slots of a table of n by open addressing: a power of two, never more than half full. */
guint32 rules_slots(guint n);
/* A spelling that the pack has, or NULL. */
const Spelling *rules_spelling(const Rules *rules, const char *folded, int length);
/* The longest stem that a word begins with, or 0. */
Symbol rules_stem_of(const Rules *rules, const char *folded, int length);
/* The same for a word of the pack: none where it stands apart. */
Symbol rules_stem_for(const Rules *rules, Symbol word);

/* rules_near.c: what spelling tolerance looks words up by; then the looking up. */
void rules_index_near(Rules *rules);

/* The word that an unknown one is with letters held down: "soooo" is "so", "yesss" is "yes". 0 where
 * there is none. */
Symbol rules_held(const Rules *rules, const char *word, int length);

/* The word, or what stands for others ("couldnt"), that an unknown word of 5 letters and over is a misspelling of: one letter
 * added, lost, changed or two swapped (two such from 9 letters on); also, in 4 letters, two swapped. NULL where there is none. */
const Spelling *rules_near(const Rules *rules, const char *folded, int length);

/* rules_sound.c: reads which letters sound alike; once all words are known, puts these down by what is heard. */
void rules_read_sounds(Rules *rules, json_t *part, const char *pointer, Faults *faults);
void rules_index_sounds(Rules *rules);

/* The word, or the longest stem, that an unknown word sounds like. 0 where there is none. */
Symbol rules_heard(const Rules *rules, const char *word, int length, bool stem);

/* rules_affix.c: reads which small words are written onto the next, and which endings only make a word small. */
void rules_read_joined(Rules *rules, json_t *part, const char *pointer, Faults *faults);
void rules_read_diminutives(Rules *rules, json_t *part, const char *pointer, Faults *faults);

/* An unknown word that is a small one and a known one: the letters of the first, or 0. */
int rules_joined(const Rules *rules, const char *word, int length, Symbol *first,
                 const Spelling **rest);

/* The word that an unknown one makes small, or NULL. */
const Spelling *rules_diminutive(const Rules *rules, const char *word, int length);

/* rules_cut.c: lines that are none of the client's words. */
void rules_read_cut(Rules *rules, json_t *tree, const char *pointer, Faults *faults);
/* Whether a folded line is of that kind. */
bool rules_cuts(const Rules *rules, CutKind kind, const char *folded);
/* Whether a line that begins with these folded letters, LINE_START at most, may be. */
bool rules_may_cut(const Rules *rules, const char *start);

/* Where a text of a pack stands: at a pointer, or as an item below it. */
typedef struct {
    Faults *faults;
    const char *pointer;
    gssize item; /* -1 for none */
} TextPlace;

/* Compiles one pattern of a class, with its faults. */
void rules_add_pattern(Rules *rules, Symbol class, const char *text, const TextPlace *place);

#endif
