/* SPDX-License-Identifier: Apache-2.0 */
/* One clinic folder with a real osierd on it and the real command line beside it, as processes: the
 * programs lie beside the test's own folder of programs. */
#ifndef OSIER_TESTS_SUPPORT_SITE_H
#define OSIER_TESTS_SUPPORT_SITE_H

#include <glib.h>
#include <jansson.h>
#include <stdbool.h>
#include <sys/types.h>

typedef struct {
    char *root;   /* a folder of its own; holds what follows, and what osierd said */
    char *clinic; /* the clinic folder in it, made by osier init */
    char *socket;
    pid_t pid;   /* of osierd; 0: not running */
    bool faulty; /* a sanitizer had something to say */
    int heard;   /* what one that stands by writes to standard output; 0: nothing */
    int seed;    /* osierd's, where it is not 0: two sites of one clinic need two */
    pid_t room;  /* osierd's network is that of this process; 0: the test's own */
} Site;

Site *site_new(void);
void site_free(Site *site); /* stops osierd; asserts that no sanitizer complained */

/* Replaces clinic.yaml, or writes a secret. */
void site_settings(Site *site, const char *yaml);
void site_secret(Site *site, const char *name, const char *value);

/* Starts osierd (clock NULL: by the real one) and waits until it is ready: 0, or the code that it
 * ended with. size_max in bytes bounds the files that it may write; 0: no bound. */
int site_start(Site *site, const char *clock);
int site_start_bounded(Site *site, const char *clock, long size_max);

/* Starts it with --stand-by and waits until it stands by: 0, or the code that it ended with. Then waits until it has taken over
 * and is ready: 0, or the code. */
int site_stand_by(Site *site, const char *clock);
int site_take_over(Site *site);

/* SIGTERM, waits: the exit code. */
int site_stop(Site *site);

/* SIGKILL, waits. */
void site_kill(Site *site);

/* Waits until osierd has ended by itself: its exit code. */
int site_wait(Site *site);

/* SIGHUP, and waits until it has told what it made of its settings. */
void site_reload(Site *site);

/* What osierd wrote to standard error since it was last started (g_free). */
char *site_said(const Site *site);

/* Runs the command line with words as a shell would split them, --clinic and --json added. out and
 * err may be NULL (g_free). The exit code. */
int site_osier(Site *site, char **out, char **err, const char *words, ...) G_GNUC_PRINTF(4, 5);

/* Runs a script of sh, in the site's root, in which $OSIER is the command line's program and $CLINIC the folder. out and err as above.
 * The exit code. */
int site_shell(Site *site, char **out, char **err, const char *script);

/* What a person is told, without --json, where success is expected (g_free). */
char *site_told(Site *site, const char *words, ...) G_GNUC_PRINTF(2, 3);

/* The same where success is expected: the JSON document (json_decref). */
json_t *site_ask(Site *site, const char *words, ...) G_GNUC_PRINTF(2, 3);

/* The same where a failure with that code is expected, and one line that holds those words. */
void site_fails(Site *site, int code, const char *holds, const char *words, ...)
    G_GNUC_PRINTF(4, 5);

/* One call of the JSON API on the socket; body is taken over, or NULL. NULL where osierd went away;
 * *status is then 0. */
json_t *site_call(Site *site, const char *method, const char *path, json_t *body, long *status);

/* What a GET on the socket answers, whatever it is (g_bytes_unref). Empty, with *status 0, where
 * osierd went away. */
GBytes *site_fetch(Site *site, const char *path, long *status);

/* osier clock to T; false where osierd went away. */
bool site_clock(Site *site, const char *to);

/* Posts to the loopback; headers is a NULL-ended list of "Name: value" or NULL. The status, 0 where
 * the other side closed without one. */
long site_post(int port, const char *path, const char *const *headers, const char *body,
               size_t length);

/* A port of the loopback that nobody listened on a moment ago. */
int site_free_port(void);

#endif
