/* SPDX-License-Identifier: Apache-2.0 */
/* From written patterns to what a text is held against, for the files that do it one after the other. */
#ifndef OSIER_CORE_TALK_RULES_COMPILE_H
#define OSIER_CORE_TALK_RULES_COMPILE_H

#include "core/talk/rules_grammar.h"

/* Numbers by symbol, those of one behind those of another. */
typedef struct {
    guint32 *at; /* where those of a symbol begin; behind the last symbol, where they end */
    guint32 *values;
} Lists;

/* What is found out of a grammar before it is compiled. All is lent. */
typedef struct {
    const Written *rows; /* in their order, but for those that are one symbol alone */
    const Part *parts;
    Lists alone; /* by symbol: the classes, and of a stem the shorter ones, that it is by itself */
    const double *weights; /* by symbol: how often it is expected, in units of its own */
    const Kind *kinds;     /* by symbol */
} Grammar;

/* rules_kind.c: the kinds of what rows speak of, by symbol, for g_free; what classes are alone. */
Kind *rules_kinds(Rules *rules, const Grammar *grammar);

/* rules_wake.c, once rows stand in order and kinds are given: rows, anchors, and what a token is and wakes. */
void rules_wake(Rules *rules, const Grammar *grammar);

/* Whether it may be what a token is: a word, a stem or a number. */
static inline bool rules_is_of_token(const Rules *rules, guint symbol)
{
    return symbol == rules->number || symbol == rules->year ||
           !rules_entry(rules, (Symbol)symbol)->class;
}

#endif
