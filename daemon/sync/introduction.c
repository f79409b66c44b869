/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/sync/introduction.h"

#include <string.h>

#include "adapters/seal/seal.h"
#include "adapters/store/find_people.h"
#include "daemon/desk/sender.h"
#include "daemon/jobs/takeover.h"

#define NAME_CHARS 60

json_t *introduction_own(Job *job, const Own *own)
{
    g_autofree char *name = replica_name(job->tx, tx_replica(job->tx));
    g_autoptr(GPtrArray) clients = find_clients(job->tx);

    /* Whoever erases somebody later, the other knows the number again: so each has a key to give from the start. */
    if (job->vault != NULL) vault_have_key(job->vault);
    return json_pack("{s:s, s:s, s:s, s:s, s:s, s:b, s:b, s:o}", "replica", tx_replica(job->tx),
                     "name", name, "clinic", job->clinic->name, "certificate", own->certificate,
                     "seal", own->seal, "sends", job->sender, "has_clients", clients->len > 0,
                     "numbers", job->vault != NULL ? vault_keys(job->vault) : json_array());
}

const char *introduction_text(const json_t *object, const char *field)
{
    const json_t *value = json_object_get(object, field);
    const char *text = json_string_value(value);

    return text != NULL && strlen(text) == json_string_length(value) ? text : NULL;
}

/* It is shown on screens. */
static bool is_name(const char *text)
{
    if (g_utf8_strlen(text, -1) > NAME_CHARS) return false;
    for (; *text != '\0'; text = g_utf8_next_char(text))
        if (g_unichar_iscntrl(g_utf8_get_char(text))) return false;
    return true;
}

const char *introduction_fault(const json_t *other, const char *pin)
{
    const char *replica = introduction_text(other, "replica"),
               *name = introduction_text(other, "name");
    const char *certificate = introduction_text(other, "certificate");
    g_autofree char *shown = certificate != NULL ? identity_pin(certificate) : NULL;

    if (replica == NULL || strlen(replica) != 16 || strspn(replica, "0123456789abcdef") != 16)
        return "its replica is no id";
    if (name == NULL || !is_name(name)) return "its name is missing, too long, or no plain line";
    if (g_strcmp0(shown, pin) != 0) return "its certificate is not that of its key";
    if (!seal_is_key(introduction_text(other, "seal"))) return "its key for bundles is none";
    return NULL;
}

void introduction_keep_peer(Job *job, const json_t *other, const char *pin, const char *address)
{
    g_autoptr(Row) peer = row_new(TABLE_PEER);

    tx_change(job->tx, "DELETE FROM peer WHERE id = ?1 OR pin = ?2", "tt",
              introduction_text(other, "replica"), pin);
    row_set_text(peer, PEER_ID, introduction_text(other, "replica"));
    row_set_text(peer, PEER_NAME, introduction_text(other, "name"));
    row_set_text(peer, PEER_ADDRESS, address);
    row_set_text(peer, PEER_PIN, pin);
    row_set_text(peer, PEER_SIGN_KEY, introduction_text(other, "certificate"));
    row_set_text(peer, PEER_SEAL_KEY, introduction_text(other, "seal"));
    row_set_int(peer, PEER_PAIRED_AT, job->now_ms);
    tx_put(job->tx, peer);
    if (job->vault != NULL) vault_add_keys(job->vault, json_object_get(other, "numbers"));
    sync_say_name(job);
}

void introduction_settle_duty(Job *job, bool keeps)
{
    g_autoptr(Sender) sender = sender_load(job->tx);

    if (sender->epoch == 0 && sender->here && keeps) takeover_take(job, "pairing");
    if (!keeps || !sender->here) sender_join(job->tx);
    job->sender = sender_is_here(job->tx);
}

bool introduction_keeps_duty(Job *job, const json_t *other)
{
    g_autoptr(GPtrArray) clients = find_clients(job->tx);

    return clients->len > 0 || !json_is_true(json_object_get(other, "sends")) ||
           !json_is_true(json_object_get(other, "has_clients"));
}

bool introduction_same_clinic(const Job *job, const json_t *other)
{
    return g_strcmp0(job->clinic->name, introduction_text(other, "clinic")) == 0;
}
