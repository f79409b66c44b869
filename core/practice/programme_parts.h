/* SPDX-License-Identifier: Apache-2.0 */
/* The sections of a programme's file, one reader each, and what holds between them. Only the
 * practice room uses it. */
#ifndef OSIER_CORE_PRACTICE_PROGRAMME_PARTS_H
#define OSIER_CORE_PRACTICE_PROGRAMME_PARTS_H

#include "core/practice/reader.h"

/* Each adds to the lists of a programme whose key and tree are set; faults go to the reader. */
void findings_read(Reader *reader, json_t *tree, Programme *programme);
void setups_read(Reader *reader, json_t *tree, Programme *programme);
void stages_read(Reader *reader, json_t *tree, Programme *programme);
void measures_read(Reader *reader, json_t *tree, Programme *programme);
void check_in_read(Reader *reader, json_t *tree, Programme *programme);
void start_read(Reader *reader, json_t *tree, Programme *programme);

/* One movement at its place; the programme's set-ups are read before. Added to stage. */
void movement_read(Reader *reader, const char *at, json_t *object, const Programme *programme,
                   Stage *stage);

/* When a stage is done, and when it was too much. back falls back on the programme's own. */
void exit_read(Reader *reader, const char *at, json_t *object, const Programme *programme,
               ExitRule *rule);
void back_read(Reader *reader, const char *at, json_t *object, BackRule *rule);

/* A list of finding keys below key, each checked. NULL where absent. */
GPtrArray *not_for_read(Reader *reader, const char *at, json_t *object, const Programme *programme);

/* Every stage named is there, and from each the programme comes to an end. */
void transitions_check(Reader *reader, json_t *tree, const Programme *programme);

void stage_free(Stage *stage);

#endif
