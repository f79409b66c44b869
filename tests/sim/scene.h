/* SPDX-License-Identifier: Apache-2.0 */
/* What a named scene stands on: one clinic on the twins and the oracle's eyes, Ada enrolled, from Monday 2 March 2026 at eight,
 * London, at UTC. What does not hold ends the program. */
#ifndef OSIER_TESTS_SIM_SCENE_H
#define OSIER_TESTS_SIM_SCENE_H

#include "core/calendar/date.h"
#include "tests/sim/oracle.h"

#define ADA "+442079460001"
#define BEA "+442079460002"

typedef struct {
    SimClinic *clinic;
    Oracle *oracle;
    GPtrArray
        *sent; /* "NUMBER KIND TEXT" of each message that the gateway took; alerts by mail too */
    GPtrArray *refused; /* the same of those that it refused */
    char *ada;
} Scene;

int64_t scene_instant(const char *text);

/* A call that must succeed, a POST where there is a body (taken); one text of its answer (g_free), or NULL. */
char *scene_call(Scene *scene, json_t *body, const char *field, const char *path, ...)
    G_GNUC_PRINTF(4, 5);

/* Another client, with consent, screen and plan at those times of day: the id (g_free). */
char *scene_enrol(Scene *scene, const char *phone, const char *at);

/* Lets time pass, under the rules. */
void scene_to(Scene *scene, const char *when);

/* The first line of each scene: the gateway is watched from where the scene lies for good, Ada is enrolled for 08:30. */
void scene_begin(Scene *scene);

/* Messages taken for that number that begin with that kind; of all kinds where it is "". */
int scene_sent(const Scene *scene, const char *number, const char *kind);

/* A text comes in by webhook and is acknowledged. */
void scene_say(Scene *scene, const char *from, const char *text);

/* The same, but what follows is the next turns' business; *status becomes what is answered, and stays where it is until then. */
void scene_put(Scene *scene, const char *from, const char *text, int *status);

void scene_session_is(Scene *scene, const char *client, const char *date, const char *state);

/* Plays it a few times, each another seed, with a gateway that takes keys and without. */
typedef void SceneAct(Scene *scene);
void scene_over_seeds(SceneAct *act);

/* The same with a text gateway of another rate. */
void scene_over_seeds_at(const char *rate, SceneAct *act);

#endif
