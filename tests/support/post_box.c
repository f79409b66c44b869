/* SPDX-License-Identifier: Apache-2.0 */
#include "tests/support/post_box.h"

#include <string.h>

#include "daemon/rehearsal/imap_talk.h"
#include "tests/support/script_server.h"

struct PostBox {
    GMutex lock; /* over what follows */
    ImapMailbox mailbox;
    guint32 cut;
    gboolean closed;
    GHashTable *talks; /* peer -> ImapTalk; only the thread's */
    GThread *thread;
    uv_loop_t loop;
    uv_async_t stop;
    ScriptServer *server;
    int port;
};

static void bytes_free(void *bytes)
{
    if (bytes != NULL) g_bytes_unref(bytes);
}

/* Half of what would have been said, where it is the mail that is to be cut. */
static bool cut_off(PostBox *box, ScriptPeer *peer, const GString *heard, const GString *out)
{
    g_autofree char *command = g_strdup_printf("UID FETCH %u ", box->cut);

    if (box->cut == 0 || strstr(heard->str, command) == NULL) return false;
    script_say(peer, out->str, out->len / 2);
    script_hang_up(peer);
    return true;
}

static void speak(ScriptPeer *peer, GString *heard, void *context)
{
    PostBox *box = context;
    int *state = script_state(peer);
    g_autoptr(GString) out = g_string_new(NULL);

    g_mutex_lock(&box->lock);
    if (*state == 0) {
        ImapTalk *talk = imap_talk_new(&box->mailbox);
        g_hash_table_insert(box->talks, peer, talk);
        g_string_append(out, imap_greeting());
        *state = 1;
    }
    bool goes_on =
        imap_talk_hear(g_hash_table_lookup(box->talks, peer), heard->str, heard->len, out);
    if (box->closed) {
        script_hang_up(peer);
    } else if (!cut_off(box, peer, heard, out)) {
        if (out->len > 0) script_say(peer, out->str, out->len);
        if (!goes_on) script_hang_up(peer);
    }
    g_string_truncate(heard, 0);
    g_mutex_unlock(&box->lock);
}

static void on_stop(uv_async_t *async)
{
    PostBox *box = async->data;

    script_server_close(box->server);
    uv_close((uv_handle_t *)async, NULL);
}

static void *serve(void *context)
{
    PostBox *box = context;

    uv_run(&box->loop, UV_RUN_DEFAULT);
    uv_loop_close(&box->loop);
    return NULL;
}

PostBox *post_box_new(void)
{
    PostBox *box = g_new0(PostBox, 1);

    box->mailbox = (ImapMailbox){
        .mails = g_ptr_array_new_with_free_func(bytes_free), .first_uid = 1, .validity = 7};
    box->talks = g_hash_table_new_full(NULL, NULL, NULL, (GDestroyNotify)imap_talk_free);
    g_mutex_init(&box->lock);
    uv_loop_init(&box->loop);
    uv_async_init(&box->loop, &box->stop, on_stop);
    box->stop.data = box;
    box->server = script_server_new(&box->loop, speak, box);
    box->port = script_server_port(box->server);
    box->thread = g_thread_new("post box", serve, box);
    return box;
}

void post_box_free(PostBox *box)
{
    uv_async_send(&box->stop);
    g_thread_join(box->thread);
    g_hash_table_unref(box->talks);
    g_ptr_array_unref(box->mailbox.mails);
    g_mutex_clear(&box->lock);
    g_free(box);
}

int post_box_port(const PostBox *box)
{
    return box->port;
}

guint32 post_box_put_bytes(PostBox *box, GBytes *mail)
{
    g_mutex_lock(&box->lock);
    g_ptr_array_add(box->mailbox.mails, mail);
    guint32 uid = box->mailbox.first_uid + box->mailbox.mails->len - 1;
    g_mutex_unlock(&box->lock);
    return uid;
}

guint32 post_box_put(PostBox *box, const char *mail)
{
    return post_box_put_bytes(box, g_bytes_new(mail, strlen(mail)));
}

void post_box_renumber(PostBox *box)
{
    g_mutex_lock(&box->lock);
    box->mailbox.validity++;
    box->mailbox.first_uid = 1;
    g_mutex_unlock(&box->lock);
}

void post_box_delete(PostBox *box, guint32 uid)
{
    g_mutex_lock(&box->lock);
    void **mail = &box->mailbox.mails->pdata[uid - box->mailbox.first_uid];
    g_bytes_unref(*mail);
    *mail = NULL;
    g_mutex_unlock(&box->lock);
}

void post_box_cut(PostBox *box, guint32 uid)
{
    g_mutex_lock(&box->lock);
    box->cut = uid;
    g_mutex_unlock(&box->lock);
}

void post_box_close_door(PostBox *box, gboolean closed)
{
    g_mutex_lock(&box->lock);
    box->closed = closed;
    g_mutex_unlock(&box->lock);
}

static int counted(PostBox *box, const int *what)
{
    g_mutex_lock(&box->lock);
    int n = *what;
    g_mutex_unlock(&box->lock);
    return n;
}

int post_box_searches(PostBox *box)
{
    return counted(box, &box->mailbox.searches);
}

int post_box_fetches(PostBox *box)
{
    return counted(box, &box->mailbox.fetches);
}
