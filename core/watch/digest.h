/* SPDX-License-Identifier: Apache-2.0 */
/* The clinic's week: who needs a call first, then each client in plain counts, then the clinic as a
 * whole. A pure renderer; whoever gathers the figures fills the struct. */
#ifndef OSIER_CORE_WATCH_DIGEST_H
#define OSIER_CORE_WATCH_DIGEST_H

#include "core/calendar/date.h"
#include "core/talk/pack.h"
#include "core/watch/adherence.h"
#include "core/watch/trend.h"

/* Pixels: it is read unreduced beside a text, and nearly so on a telephone. */
#define DIGEST_PICTURE_WIDTH 440

/* A picture in the page; the text has the same in its own words. */
typedef struct {
    char *title;
    char *alt;
    char *png; /* base64 */
} DigestPicture;

/* One matter: an alert, or another reason to call. Strings are owned by the digest. */
typedef struct {
    char *kind;    /* an alert's kind */
    char *named;   /* as which its words stand among the pack's kind- texts: matter_named */
    char *value;   /* the number that belongs to it, or NULL */
    Day date;      /* local, of the clinic */
    char *state;   /* "open", "taken", "closed" */
    char *by;      /* who took or closed it, or NULL */
    char *outcome; /* "resume", "step-back", "refer", "end" where closed, or NULL */
} DigestMatter;

typedef struct {
    char *client; /* id */
    char *name;
    char *phone;        /* or NULL */
    char *needs;        /* hearing, interpreter ..., or NULL */
    GPtrArray *reasons; /* of DigestMatter, gravest first */
} DigestCall;

typedef struct {
    char *client;
    char *name;
    char *order; /* what the name is sorted by */
    char *stage; /* its title, or NULL without a plan */
    char *bar;   /* "stop", "pause", "hold", "suspend", "end" in force, or NULL */
    SessionCounts counts;
    double intensity; /* mean, or -1 */
    bool has_intensity_trend;
    TrendDirection intensity_trend;
    double pain; /* highest, or -1 */
    /* The highest number of which nobody knows whether it was the stretch or pain; 0: none */
    double pain_bare;
    bool pain_some; /* pain without a number */
    bool has_pain_trend;
    TrendDirection pain_trend;
    GPtrArray *alerts; /* of DigestMatter, oldest first */
    char *readiness;   /* "move on", "stay", "step back", or NULL where nothing can be said */
} DigestClient;

typedef struct {
    char *clinic;
    Day from;
    Day to;              /* inclusive */
    GPtrArray *calls;    /* of DigestCall, in the order of calling */
    GPtrArray *clients;  /* of DigestClient, by name */
    GPtrArray *pictures; /* of DigestPicture */
    double away_hours;   /* not listening */
    int segments;
    double cost; /* in the clinic's currency; -1 where no price is set */
    int unread;  /* replies that a person must settle */
    int glance;  /* replies that a person should still see */
    int settled; /* replies that a person settled this week */
    int missed;  /* of those, what osier had misread */
} Digest;

/* An empty digest; cost is -1. Freed with digest_free. */
Digest *digest_new(const char *clinic, Day from, Day to);
void digest_free(Digest *digest);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(Digest, digest_free)

/* Add an entry and lend it; what is not given starts as NULL, 0 or -1. matters is reasons of a call
 * or alerts of a client. Texts are copied and freed with g_free; a NULL state is "open". */
DigestCall *digest_call(Digest *digest, const char *client, const char *name);
DigestClient *digest_client(Digest *digest, const char *client, const char *name);
DigestMatter *digest_matter(GPtrArray *matters, const char *kind, const char *value, Day date,
                            const char *state);

/* Adds a picture of so many bytes of PNG; title and alt are copied. */
void digest_picture(Digest *digest, const char *title, const char *alt, const void *png,
                    size_t length);

/* Puts the clients in the order of their names, as the locale has it. */
void digest_sort(Digest *digest);

/* How many clients were asked for a session, and how many of them did any, wholly or in part. */
void digest_practised(const Digest *digest, int *asked, int *practised);

/* The six counts of all clients together. */
SessionCounts digest_total(const Digest *digest);

/* The digest in the pack's language: text of at most 72 columns; one HTML page with inline styles,
 * no link, its pictures within it as data: URIs, whose meaning does not hang on colour. The caller frees. */
char *digest_text(const Digest *digest, const Pack *pack);
char *digest_html(const Digest *digest, const Pack *pack);

/* The same as one JSON document, new reference; words are kinds and states, not sentences. */
json_t *digest_json(const Digest *digest);

#endif
