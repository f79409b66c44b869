/* SPDX-License-Identifier: Apache-2.0 */
/* Two clients or more on one phone: the letter that each has there, and whether an answer that begins with it is theirs.
 *
 * A text that is for one of them begins with the letter ("R: ..."), and they answer with it ("R D 4 P0"). Whoever forgets it is
 * not guessed at: a person says whose the answer is. Pure; the letters that may be given stand in the language packs
 * (pack_share_letters), and what an answer is the packs read. */
#ifndef OSIER_CORE_TALK_SHARE_H
#define OSIER_CORE_TALK_SHARE_H

#include "core/talk/pack.h"

/* The letters of n who share a number, in the order in which they became clients. names: what they are called; offered: what the
 * pack of each one's language offers. Each takes the first letter of the name that is offered and that nobody before took, else
 * the first one offered that is left; letters[i] is 'A' to 'Z', or 0 where none is left. So who comes later changes nobody's. */
void share_letters(const char *const *names, const char *const *offered, int n, char *letters);

/* The letter that stands alone at the beginning of a text, in upper case, or 0. One of . , : ; - ) may follow it. *rest is what
 * stands behind, lent. */
char share_letter_of(const char *text, const char **rest);

/* Is what stands behind the letter an answer, and nobody else's? It must begin with one: a number, a word or letter for done, not
 * done, pain or stretch, or the letter of a check-in. Not where it holds a command, words of a death, an illness or a wrong number, or one more
 * letter that may be somebody's; nor where it tells a warning sign of one of the family, who may be the other. packs: the client's language first, n at least 1; taken: the letters of all who share. */
bool share_is_answer(const Pack *const *packs, int n, const char *taken, const char *rest);

/* Does a text hold a name of the other's that is not the own one too, as their surname may be? Accents and capitals aside. */
bool share_names_other(const char *text, const char *own, const char *other);

/* Could the letter be an answer by itself, or the label of one ("P 4")? Then a pack may not offer it. */
bool share_is_answer_letter(const Pack *pack, char letter);

#endif
