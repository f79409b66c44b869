/* SPDX-License-Identifier: Apache-2.0 */
/* A round is a search and then one fetch after the other, each stored with the cursor before the
 * next is asked for; at most ROUND_MOST of them, so that no flood holds up what else the clinic's
 * line carries. A mail that cannot be fetched in a few tries, while the search can be made, is noted
 * for a person and passed over: it must not keep back those behind it. */
#include "daemon/intake/mailbox.h"

#include "adapters/mail/mailbox.h"
#include "daemon/intake/mail_reader.h"
#include "daemon/intake/take_in.h"

enum { ROUND_MOST = 20, TRIES_MOST = 3 };

struct Mailbox {
    Rounds rounds;
    Desk *desk;
    Net *net;
    MailReader *reader;
    MailCursor cursor;
    bool known;    /* the cursor has been read from the store */
    GArray *found; /* of guint32: UIDs still to be fetched in this round, the next last; or NULL */
    int left;      /* fetches still allowed in this round */
    bool anew;     /* in this round the mailbox turned out to be another */
    guint32 uid;   /* the one that is being fetched, or was last tried in vain */
    int tries;     /* in vain */
};

/* NULL where the gateway, or its mailbox, has left the settings. */
static const Gateway *gateway_of(const Mailbox *mailbox)
{
    const Gateway *gateway =
        clinic_gateway(settings_clinic(desk_settings(mailbox->desk)), mailbox->rounds.name);

    return gateway != NULL && gateway->imap != NULL ? gateway : NULL;
}

static char *password_of(const Mailbox *mailbox, const Gateway *gateway)
{
    return gateway->imap->password != NULL
               ? settings_fill_secret(desk_settings(mailbox->desk), gateway->imap->password)
               : NULL;
}

static void end_round(Mailbox *mailbox)
{
    const Gateway *gateway = gateway_of(mailbox);

    g_clear_pointer(&mailbox->found, g_array_unref);
    rounds_end(&mailbox->rounds, gateway != NULL ? gateway->imap->every_ms : 0);
}

static void fail_round(Mailbox *mailbox)
{
    rounds_failed(&mailbox->rounds);
    end_round(mailbox);
}

static void fetch_next(Mailbox *mailbox);

/* --- one mail ------------------------------------------------------------------------------- */

static void stored(StoreStatus status, int fresh, void *context)
{
    Mailbox *mailbox = context;

    (void)fresh;
    if (status == STORE_OK) {
        fetch_next(mailbox);
        return;
    }
    /* Not stored: the cursor stays, and the same is asked for again. */
    mailbox->known = false;
    fail_round(mailbox);
}

/* Stores what there is of a mail, and the cursor behind it. */
static void store(Mailbox *mailbox, Incoming *incoming, GPtrArray *receipts)
{
    GPtrArray *items = g_ptr_array_new_with_free_func((GDestroyNotify)incoming_free);

    mailbox->tries = 0;
    mailbox->cursor.uid = mailbox->uid;
    mailbox->cursor.since_ms = clock_now(desk_clock(mailbox->desk));
    g_autofree char *cursor = mail_cursor_text(&mailbox->cursor);
    if (incoming != NULL) g_ptr_array_add(items, incoming);
    take_in(mailbox->desk,
            &(Taking){.gateway = mailbox->rounds.name,
                      .channel = CHANNEL_EMAIL,
                      .items = items,
                      .receipts = receipts,
                      .cursor = cursor},
            stored, mailbox);
}

static void take_mail(MailIn *in, void *mailbox)
{
    store(mailbox, g_steal_pointer(&in->incoming), g_ptr_array_ref(in->receipts));
    mail_in_free(in);
}

/* Only the mailbox's own number tells of it. */
static void note_lost(Mailbox *mailbox, const char *why)
{
    Incoming *incoming = g_new0(Incoming, 1);

    incoming->id = g_strdup_printf("mail %u of mailbox %u", mailbox->uid, mailbox->cursor.validity);
    incoming->at_ms = -1;
    incoming->problem = g_strdup_printf(
        "a mail that cannot be fetched: look into the mailbox (number %u; %s)", mailbox->uid, why);
    store(mailbox, incoming, NULL);
}

static void on_mail(WireResponse *response, void *context)
{
    Mailbox *mailbox = context;
    g_autofree char *why = NULL;
    Fetched fetched = mailbox_fetched(response, &why);

    if (fetched == FETCHED_WHOLE || fetched == FETCHED_BEGINNING) {
        mail_reader_read(mailbox->reader, response->body, fetched == FETCHED_WHOLE, take_mail,
                         mailbox);
    } else if (fetched == FETCHED_GONE) {
        mailbox->tries = 0;
        mailbox->cursor.uid = mailbox->uid;
        fetch_next(mailbox);
    } else if (++mailbox->tries >= TRIES_MOST) {
        note_lost(mailbox, why);
    } else {
        end_round(mailbox);
    }
    wire_response_free(response);
}

static void fetch_next(Mailbox *mailbox)
{
    const Gateway *gateway = gateway_of(mailbox);

    if (mailbox->found->len == 0 || mailbox->left-- <= 0 || gateway == NULL ||
        !mailbox->rounds.running) {
        mailbox->rounds.full = mailbox->found->len > 0;
        end_round(mailbox);
        return;
    }
    guint32 uid = g_array_index(mailbox->found, guint32, mailbox->found->len - 1);
    g_array_set_size(mailbox->found, mailbox->found->len - 1);
    if (uid != mailbox->uid) mailbox->tries = 0;
    mailbox->uid = uid;
    g_autofree char *password = password_of(mailbox, gateway);
    net_submit(mailbox->net, mailbox_fetch(gateway, &mailbox->cursor, uid, password), on_mail,
               mailbox);
}

/* --- a round -------------------------------------------------------------------------------- */

static void search(Mailbox *mailbox);

static void turn_round(GArray *uids)
{
    for (guint i = 0; i < uids->len / 2; i++) {
        guint32 *one = &g_array_index(uids, guint32, i);
        guint32 *other = &g_array_index(uids, guint32, uids->len - 1 - i);
        guint32 held = *one;
        *one = *other;
        *other = held;
    }
}

static void on_found(WireResponse *response, void *context)
{
    Mailbox *mailbox = context;
    MailCursor before = mailbox->cursor;
    g_autofree char *why = NULL;
    bool again;

    mailbox->found = mailbox_found(response, &mailbox->cursor, &again, &why);
    wire_response_free(response);
    if (mailbox->found == NULL) {
        fail_round(mailbox);
        return;
    }
    rounds_good(&mailbox->rounds);
    if (again && !mailbox->anew) {
        mailbox->anew = true;
        g_clear_pointer(&mailbox->found, g_array_unref);
        search(mailbox);
        return;
    }
    turn_round(mailbox->found);
    mailbox->left = ROUND_MOST;
    if (mailbox->found->len > 0 || mailbox->cursor.uid == before.uid) {
        fetch_next(mailbox);
        return;
    }
    mailbox->uid = mailbox->cursor.uid; /* an empty mailbox: from here on */
    store(mailbox, NULL, NULL);
}

static void search(Mailbox *mailbox)
{
    const Gateway *gateway = gateway_of(mailbox);

    /* Between the wish and now it may have been stopped, or have left the settings. */
    if (gateway == NULL || !mailbox->rounds.running) {
        end_round(mailbox);
        return;
    }
    g_autofree char *password = password_of(mailbox, gateway);
    net_submit(mailbox->net, mailbox_search(gateway, &mailbox->cursor, password), on_found,
               mailbox);
}

static bool cursor_job(Job *job, void *context)
{
    Mailbox *mailbox = context;
    g_autoptr(Row) row = tx_get_text(job->tx, TABLE_CURSOR, mailbox->rounds.name);

    mailbox->cursor =
        mail_cursor_read(row != NULL ? row_text(row, CURSOR_VALUE) : NULL, job->now_ms);
    mailbox->known = true;
    return true;
}

static void cursor_done(StoreStatus status, void *context)
{
    Mailbox *mailbox = context;

    if (status == STORE_OK)
        search(mailbox);
    else
        fail_round(mailbox);
}

static void on_round(void *context)
{
    Mailbox *mailbox = context;

    if (mailbox->rounds.busy || !mailbox->rounds.running || gateway_of(mailbox) == NULL) return;
    mailbox->rounds.busy = true;
    mailbox->anew = false;
    if (mailbox->known)
        search(mailbox);
    else
        desk_submit(mailbox->desk, cursor_job, cursor_done, mailbox);
}

Rounds *mailbox_rounds(Mailbox *mailbox)
{
    return &mailbox->rounds;
}

Mailbox *mailbox_new(Desk *desk, Net *net, const IntakeWatch *watch, uv_loop_t *loop,
                     const char *gateway)
{
    Mailbox *mailbox = g_new0(Mailbox, 1);

    mailbox->desk = desk;
    mailbox->net = net;
    mailbox->reader = mail_reader_new(loop);
    rounds_init(&mailbox->rounds, desk, watch, gateway, on_round, mailbox);
    return mailbox;
}

void mailbox_free(Mailbox *mailbox)
{
    mail_reader_close(mailbox->reader);
    rounds_clear(&mailbox->rounds);
    if (mailbox->found != NULL) g_array_unref(mailbox->found);
    g_free(mailbox);
}
