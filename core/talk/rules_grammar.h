/* SPDX-License-Identifier: Apache-2.0 */
/* The compiled form of core/talk/rules.h, for the reader alone: symbols, patterns, and the way from
 * a word to a symbol. */
#ifndef OSIER_CORE_TALK_RULES_GRAMMAR_H
#define OSIER_CORE_TALK_RULES_GRAMMAR_H

#include "core/talk/rules.h"

typedef guint16 Symbol; /* a word or a class; 0 is none */

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
    ROLE_CLIENT,       /* the client, told by a relative */
    ROLE_TODAY,
    ROLE_OTHER_DAY, /* yesterday, last week: no report for today */
    ROLE_LONG_AGO,  /* too long ago for a sign */
    ROLE_IF,        /* what follows has not happened */
    ROLE_NEAR,      /* what follows nearly happened */
    ROLE_HARMLESS,  /* a harmless cause, given by the client */
    ROLE_IDIOM,     /* a figure of speech: nothing is read from its words */
    ROLE_LEAD,      /* may stand before the start of a clause */
    ROLE_TAIL,      /* may stand behind its end */
    ROLE_FILL,      /* says nothing of its own */
    ROLE_THANKS,
    /* the report */
    ROLE_YES,
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
    ROLE_NUMBER_BEFORE, /* may stand before a bare rating */
    ROLE_NUMBER_AFTER,  /* may stand behind a bare rating */
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
    ROLE_SUSPEND,   /* a death, a hospital stay, illness */
    ROLE_WORRY,     /* makes "some" pain a matter for a person */
    ROLE_ASK,       /* a question or request */
    ROLE_AWAY,
    ROLE_WRONG,
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

enum { PATTERN_ELEMENTS = 12, PATTERN_GAPS = 4, PATTERN_REACH = 60 };

typedef enum { EDGE_NONE, EDGE_CLAUSE, EDGE_TEXT } Edge;

typedef struct {
    Symbol symbol;
    guint8 gap; /* words that may stand before it */
    bool far;   /* with commas between */
} Element;

typedef struct {
    Symbol class;
    guint8 n;
    guint8 start; /* Edge */
    guint8 end;
    Element elements[PATTERN_ELEMENTS];
} Pattern;

typedef struct {
    char *text; /* the folded word, or the name of the class */
    bool class;
    bool stem;     /* "stem*" */
    bool common;   /* not a target of spelling tolerance */
    bool weak;     /* a number word that is as often something else */
    double number; /* of a number word, or -1 */
    GArray *alone; /* of Symbol: classes that it is by itself */
    GArray *first; /* of guint: patterns that begin with it */
    int role;      /* Role of a class that the engine knows, or -1 */
} Entry;

struct Rules {
    GPtrArray *entries;     /* of Entry, by Symbol; the first is empty */
    GHashTable *words;      /* folded word to Symbol */
    GHashTable *stems;      /* stem to Symbol */
    GHashTable *classes;    /* name to Symbol */
    GHashTable *rewrites;   /* folded word to char ** */
    GHashTable *misspelt;   /* a word less one or two letters to GArray of Symbol */
    GHashTable *spoken;     /* one word, or two in 16 bits each, to a punctuation character */
    GPtrArray *cut_quoted;  /* of GPatternSpec, as are the others: a line above quoted mail */
    GPtrArray *cut_heading; /* such a line, or two lines that make one */
    GPtrArray *cut_signature;
    GPtrArray *cut_line;     /* a line that is no part of the answer */
    GPtrArray *cut_reaction; /* a phone's reaction that quotes the reminder */
    GArray *patterns;        /* of Pattern, in an order in which each finds its classes made */
    Symbol role[ROLE_COUNT];
    Symbol number;          /* the class "#" */
    int stem_min, stem_max; /* lengths in bytes */
    bool apostrophe_splits;
    bool decimal_comma;
};

/* The name of a role in a pack. */
const char *rules_role_name(Role role);

/* The symbol of a class or word, made where there is none. */
Symbol rules_class(Rules *rules, const char *name);
Symbol rules_word(Rules *rules, const char *folded);
Symbol rules_stem(Rules *rules, const char *folded);
Entry *rules_entry(const Rules *rules, Symbol symbol);

/* Words that a folded word stands for, NULL-ended, or NULL. */
char **rules_rewrite(const Rules *rules, const char *folded);

/* The symbol of a folded word as written, or 0. */
Symbol rules_find(const Rules *rules, const char *folded);

/* The word that an unknown word of 5 letters and over is a misspelling of: one letter added, lost,
 * changed or two swapped (two such from 9 letters on); also letters held down and, in 4 letters,
 * two swapped. 0 where there is none. */
Symbol rules_find_misspelt(const Rules *rules, const char *folded);

/* Called once all words are known: what spelling tolerance looks words up by. */
void rules_index_misspelt(Rules *rules);

/* Compiles one pattern of a class. parts: fault_add goes to faults at pointer. */
void rules_add_pattern(Rules *rules, Symbol class, const char *text, Faults *faults,
                       const char *pointer);

#endif
