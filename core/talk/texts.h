/* SPDX-License-Identifier: Apache-2.0 */
/* The texts that osier writes: which there are, what each may hold, and the check that a pack's are
 * fit to send. */
#ifndef OSIER_CORE_TALK_TEXTS_H
#define OSIER_CORE_TALK_TEXTS_H

#include "core/clinic/fault.h"

typedef enum {
    TEXT_SMS, /* one GSM-7 segment with every placeholder at its widest */
    /* the same, for one client alone: on a phone that several share it begins with that one's letter, for which there is room */
    TEXT_OWN_SMS,
    TEXT_PART, /* words that stand for {kind} in an SMS: GSM-7, no wider than that */
    TEXT_LINE, /* one line: a subject, a heading, a word */
    TEXT_MAIL  /* a body of several lines */
} TextForm;

typedef struct {
    const char *key;
    TextForm form;
    const char *offers; /* placeholders that it may use, separated by spaces */
    const char *needs;  /* those without which it is not fit to send; "" where none */
} TextRule;

/* The rule of a key, or NULL. text_rules gives them all, n of them. */
const TextRule *text_rule(const char *key);
const TextRule *text_rules(size_t *n);

/* On a phone that several share: the rule of the text that stands for this one and begins with a client's letter. It is that of the
 * key with "-shared" where there is one, which says how to answer with the letter. NULL: the text is for whoever reads it. */
const TextRule *text_rule_shared(const char *key);

/* The text with the letter before it, "R: ..." (g_free). */
char *text_marked(char letter, const char *text);

/* The letter before a text, and what stands behind it; 0 where none does. */
char text_mark_of(const char *text, const char **rest);

/* The widest value, in characters, that a placeholder is reckoned with; 0 for an unknown one.
 * Settings that stand in texts (the clinic's name, its numbers) are held to it. */
int text_width(const char *placeholder);

typedef struct Texts Texts;

/* Reads the object of key and text at the pointer; adds a fault for every key that is missing or
 * unknown, every placeholder that a key does not offer or lacks, every SMS text that GSM-7 or one
 * segment cannot hold (with the character and its place, or how much it is too long), and every
 * link. NULL where there are any. */
Texts *texts_read(json_t *object, const char *pointer, Faults *faults);
void texts_free(Texts *texts);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(Texts, texts_free)

/* The text of a key as the pack has it, or NULL; lent. */
const char *texts_get(const Texts *texts, const char *key);

/* The text with each {name} replaced once by value(name, context); a value is never scanned, NULL
 * counts as empty. A brace that opens no name stays. The caller frees. */
typedef const char *TextValue(const char *name, void *context);
char *text_fill(const char *text, TextValue *value, void *context);

#endif
