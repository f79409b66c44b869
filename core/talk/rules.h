/* SPDX-License-Identifier: Apache-2.0 */
/* What a language pack reads by, compiled once: words, spellings, numbers and a small cascaded
 * grammar.
 *
 * A pack's `reading:` part is data of this shape:
 *
 *   apostrophe: drop | split          "can't" is one word cant, or "j'ai" is two
 *   decimal_comma: true | false       "4,2" is one number, or two
 *   figures:    part | whole           whether a figure of speech (idiom) takes a warning sign that it shares a word
 *                                     with, or only one of which it holds all words but the small ones; part if left out
 *   rewrite:    {cant: can not}       a word that stands for others
 *   short:      {d: de, c: cest}    a letter that stands for a word where it stands between two words; for one that
 *                                     `rewrite` has as several, where it stands before a word
 *   endings:    {"'s": is}            the end of a word that stands for others, the rest being a word
 *   joined:     {l: aeiouh}           small words that are written onto the next, and the letters that this begins
 *                                     with: a word that nobody knows is such a one and a known word ("lecole")
 *   diminutives: {ito: o, cito: ""}   endings that only make a word small, and what stands in their place: a word that
 *                                     nobody knows is the plain one ("dolorcito")
 *   numbers:    {zero: 0, four: 4}    number words; tens take a following unit, hundred multiplies
 *   heard_numbers: {to: 2}            what dictation writes for a number word; counts before "out of ten" alone
 *   weak_numbers: [one]               number words that are as often something else
 *   sounds:     {v: b, h: "", "d>": ""}  letters that sound alike, "d>" at the end of a word alone: a word that
 *                                     nobody knows is one that sounds the same
 *   common:     [chess, feel]         words that spelling tolerance must leave alone
 *   apart:      [number]              words for which no stem ("numb*") stands
 *   spoken:     {full stop: "."}      punctuation as dictation writes it
 *   cut:        {quoted, heading, signature, line, reaction: [on * wrote:]}   lines that are not the client's words
 *   classes:    {NAME: [PATTERN...]}  what the engine knows by name (Role in rules_grammar.h), and helpers of the
 *                                     pack's own
 *
 * A pattern is a row of elements: a word; "stem*"; {class}; (a|b c|{d}); "#" for a number, "####" for a year up to 2019; any of
 * them with "?" behind for optional; "~3" for up to three words between (12 at most), up to a word
 * like "but"; "~,3" the same across commas; "~;3" across commas and "but"; "~~3" across commas and in
 * either order of its two sides; "<" and ">" for the start and end of a clause ("(a|b|>)": a word or
 * the end), "<<" and ">>" for those of the whole text. Classes may refer to one another in any order, not in a ring. */
#ifndef OSIER_CORE_TALK_RULES_H
#define OSIER_CORE_TALK_RULES_H

#include "core/clinic/fault.h"

typedef struct Rules Rules;

/* Compiles the tree at that pointer of a pack. Adds every fault found (unknown or missing classes,
 * bad patterns, rings) with its JSON pointer below `pointer`; NULL where there is any. The tree may
 * be freed afterwards. */
Rules *rules_read(json_t *tree, const char *pointer, Faults *faults);
void rules_free(Rules *rules);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(Rules, rules_free)

#endif
