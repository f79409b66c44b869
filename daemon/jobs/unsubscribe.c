/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/jobs/unsubscribe.h"

#include <string.h>

#include "adapters/page/password.h"
#include "adapters/store/find_access.h"
#include "adapters/store/find_people.h"
#include "core/ledger/id.h"
#include "daemon/jobs/post.h"
#include "daemon/jobs/reply.h"
#include "daemon/jobs/words.h"

#define TOKEN_CHARS 32 /* 128 bits in hex */

/* The tokens of a client under every key that is known, the one to hand out first. */
static GPtrArray *tokens_of(Job *job, const char *client, bool make)
{
    GPtrArray *tokens = g_ptr_array_new_with_free_func(g_free);
    g_autofree char *what = g_strconcat("unsubscribe email ", client, NULL);

    if (job->vault == NULL) return tokens;
    g_autoptr(GPtrArray) hashes = vault_hashes(job->vault, what, make);
    for (guint i = 0; i < hashes->len; i++)
        g_ptr_array_add(tokens, g_strndup(strchr(hashes->pdata[i], ' ') + 1, TOKEN_CHARS));
    return tokens;
}

static bool page_is_served(Job *job)
{
    g_autoptr(GPtrArray) accounts = find_accounts(job->tx);
    bool open = false;

    for (guint i = 0; i < accounts->len; i++)
        open = open || row_is_null(accounts->pdata[i], ACCOUNT_CLOSED_AT);
    return open;
}

char *unsubscribe_url(Job *job, const char *client)
{
    const char *page = job->clinic->page_url;

    if (page == NULL || !g_str_has_prefix(page, "https://") || !page_is_served(job)) return NULL;
    g_autoptr(GPtrArray) tokens = tokens_of(job, client, true);
    if (tokens->len == 0) return NULL;
    return g_strconcat(page, UNSUBSCRIBE_PATH, client, "/", tokens->pdata[0], NULL);
}

Person *unsubscribe_person(Job *job, const char *client, const char *token)
{
    g_autoptr(GPtrArray) tokens = tokens_of(job, client, false);
    bool right = false;

    for (guint i = 0; i < tokens->len; i++)
        right |= token_same(token, tokens->pdata[i]);
    return right ? person_load(job, client) : NULL;
}

static void put_consent(Job *job, const Person *person, Channel channel, const char *text)
{
    tx_append(job->tx, "client.consent", person->id, "client", NULL,
              json_pack("{s:s, s:s?, s:s, s:I}", "channel", channel_name(channel), "text", text,
                        "by", "client", "at", (json_int_t)job->now_ms));
}

static void confirm(Job *job, const Person *person, const char *cause)
{
    g_autofree char *purpose = g_strconcat("stopped/", cause, NULL);
    Worded words;

    words_key(job, person, CHANNEL_EMAIL, "stopped", &words);
    g_free(post_client_by(job, person, CHANNEL_EMAIL, person->address[CHANNEL_EMAIL],
                          &(Post){.kind = MESSAGE_STOPPED,
                                  .purpose = purpose,
                                  .text = words.text,
                                  .subject = words.subject}));
    worded_clear(&words);
}

void unsubscribe_email(Job *job, const Person *person)
{
    g_autofree char *at =
        g_strdup_printf("unsubscribe/%s/%" G_GINT64_FORMAT, person->id, job->now_ms);
    g_autofree char *cause = id_message(at);

    if (person->consent[CHANNEL_EMAIL]) put_consent(job, person, CHANNEL_EMAIL, NULL);
    if (person->channel != CHANNEL_EMAIL || person->stopped) return;
    confirm(job, person, cause);
    reply_stop(job, person, cause, "client");
}

void unsubscribe_undo(Job *job, const Person *person, Channel channel)
{
    g_autoptr(GPtrArray) contacts = find_contacts(job->tx, person->id);

    if (person->consent[channel]) return;
    for (guint i = 0; i < contacts->len; i++) {
        const Row *contact = contacts->pdata[i];
        if (g_strcmp0(row_text(contact, CONTACT_CHANNEL), channel_name(channel)) == 0 &&
            g_strcmp0(row_text(contact, CONTACT_CONSENT_BY), "client") == 0) {
            g_autofree char *today = day_format(zone_local(job_clinic_zone(job), job->now_ms).day);
            g_autofree char *text =
                g_strconcat("wrote START after ending it by a click, ", today, NULL);
            put_consent(job, person, channel, text);
            return;
        }
    }
}
