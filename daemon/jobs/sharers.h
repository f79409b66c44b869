/* SPDX-License-Identifier: Apache-2.0 */
/* Two clients or more on one phone: who they are, the letter of each, and whose an answer is (core/talk/share.h). Store thread. */
#ifndef OSIER_DAEMON_JOBS_SHARERS_H
#define OSIER_DAEMON_JOBS_SHARERS_H

#include "daemon/desk/person.h"

typedef struct {
    Person *person;
    char letter; /* 'A' to 'Z'; 0: the pack has none left */
} Sharer;

/* The clients who have that number or address, in the order in which they became clients, with those who have ended: so no letter
 * changes, or is another's, when somebody ends. The array frees its Sharers. And how many of them have not ended. */
GPtrArray *sharers_of(Job *job, const char *address);
int sharers_now(const GPtrArray *sharers);

/* The letter of a client on the phone that their texts go to, or 0: nobody else has it now. */
char sharers_letter(Job *job, const Person *person);

/* The one whose letter a text begins with; lent by the array, or NULL. *rest is the text without the letter, lent by the text. */
const Sharer *sharers_named(const GPtrArray *sharers, const char *text, const char **rest);

/* Is that rest an answer, and surely that one's? */
bool sharers_answers(Job *job, const GPtrArray *sharers, const Sharer *named, const char *rest);

/* Is a letter still that one's by what they were told? A name, a language or a number set anew may have given it to another since the
 * last text; then it is nobody's for certain until the next texts have told it. */
bool sharers_were_told(Job *job, const GPtrArray *sharers, const Sharer *named);

/* {letter, with: [{client, name, letter}]} of a client whose phone others share; NULL where none does (new reference). */
json_t *sharers_json(Job *job, const Person *person);

#endif
