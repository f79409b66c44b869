/* SPDX-License-Identifier: Apache-2.0 */
/* A clinic for jobs, in memory and without a loop: settings from a folder of its own, a store's twin, and whatever time a job is
 * to run at. */
#ifndef OSIER_TESTS_SUPPORT_SCENE_H
#define OSIER_TESTS_SUPPORT_SCENE_H

#include "daemon/control/call.h"
#include "daemon/desk/person.h"

typedef struct Scene Scene;

/* more: lines of the section clinic, or "". Set up as of that instant. */
Scene *scene_new(const char *more, const char *instant);
void scene_free(Scene *scene);

/* Runs a job at that instant, as the sender unless it is said otherwise; it must be kept. context goes to the job. */
void scene_at(Scene *scene, const char *instant, JobRun *run, void *context);
void scene_sends(Scene *scene, bool sends);

/* One call of the API within a job, which must succeed: body is taken over. The id of a client that it made, else NULL (g_free). */
char *scene_call(Job *job, CallHandler *handler, const char *id, json_t *body);

#endif
