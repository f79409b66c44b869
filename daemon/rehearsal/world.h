/* SPDX-License-Identifier: Apache-2.0 */
/* The world around the daemon: the gateway and mail server's stand-ins, the clients, the clinicians
 * on the duty list and the clinic's desk. It acts on its agenda and on what reaches it. */
#ifndef OSIER_DAEMON_REHEARSAL_WORLD_H
#define OSIER_DAEMON_REHEARSAL_WORLD_H

#include "adapters/files/clinic_file.h"
#include "daemon/rehearsal/agenda.h"
#include "daemon/rehearsal/gateway.h"
#include "daemon/rehearsal/imap_talk.h"
#include "daemon/rehearsal/link.h"
#include "daemon/rehearsal/people.h"
#include "daemon/zones.h"

/* A client as the clinic has entered them. */
typedef struct {
    Someone someone;
    char *id;    /* of the client, once added */
    char *phone; /* as it stands in the clinic's books */
} Resident;

/* A text or a mail that somebody sent to the clinic. */
typedef struct {
    char *id; /* the gateway's; of a mail what stands before the @ of its Message-ID */
    char *from;
    char *text;
    int64_t at_ms;
    const Resident *who; /* NULL: a clinician or a stranger */
    Meaning meaning;
    Truth truth;
    Day day;
    bool mailed;  /* by mail: it lies in the clinic's mailbox */
    bool posted;  /* by webhook; else it lies ready to be polled for */
    bool arrived; /* the clinic has answered that it has it */
    int tries;
} Letter;

/* A mail that the mail server took. */
typedef struct {
    char *to; /* the first recipient */
    GBytes *bytes;
    char *id; /* what stands before the @ of its Message-ID, or "" */
    int64_t at_ms;
} Mail;

/* A move that a clinician has confirmed. */
typedef struct {
    int64_t at_ms;
    const Resident *who;
    const char *by;
    json_t *ready; /* what readiness said before it */
} Move;

typedef struct {
    uv_loop_t *loop;
    const ClinicFolder *folder; /* the working copy, as osierd reads it */
    GTimeZone *zone;            /* the clinic's */
    Zones *zones;
    Random *random;
    Link *link;
    Agenda *agenda;
    Standin *standin;
    char *hooks_origin; /* where osierd hears webhooks: "http://127.0.0.1:4711" */
    Day from;
    int64_t now_ms;
    Resident *residents;
    size_t n_residents;
    GPtrArray *letters; /* of Letter */
    GPtrArray *mails;   /* of Mail */
    GPtrArray *moves;   /* of Move */
    int mails_repeated;
    int texts_out;        /* to phones */
    int64_t last_poll_ms; /* when osierd last asked for texts */
    ImapMailbox *mailbox; /* the clinic's */
    int searches;         /* of it, when last looked at */
    int64_t last_search_ms;
    bool stirred; /* something reached the world since this was last cleared */
} World;

typedef struct {
    uv_loop_t *loop;
    const ClinicFolder *folder;
    Link *link;
    ImapMailbox *mailbox; /* the clinic's; lives as long as the world */
    uint64_t seed;
    size_t clients; /* the first so many of the cast; 0: all */
    Day from;
    int64_t start_ms;
    int64_t end_ms;
    int hooks_port;
} WorldPlan;

World *world_new(const WorldPlan *plan);
void world_free(World *world);

/* Handlers for the stand-ins' servers; their context is the world. */
void world_serve(ServeRequest *request, void *world);
void world_mail(const GPtrArray *to, GBytes *mail, void *world);

/* Does what is due by now. False where nothing was. */
bool world_act(World *world);

/* Sends a text to the clinic now: by webhook, or into the inbox that is polled. who may be NULL. */
void world_text(World *world, const char *from, const char *text, const Resident *who,
                const Saying *saying);

/* Puts a mail into the clinic's mailbox now, as an answer to one that was written to who. */
void world_mail_back(World *world, const Resident *who, GBytes *answered, const Saying *saying);

/* Is a letter still on its way: not lost, but not asked for yet? */
bool world_on_its_way(const World *world, const Letter *letter);

/* A number from 0 to below, drawn for a purpose. */
int world_draw(World *world, const char *purpose, int below);

Resident *world_resident(World *world, const char *client);

#endif
