/* SPDX-License-Identifier: Apache-2.0 */
/* The fold: what one event does to the derived tables. Any set of events in any order, with repeats, gives the same
 * tables. Pure: it sees rows through two functions. */
#ifndef OSIER_CORE_LEDGER_FOLD_H
#define OSIER_CORE_LEDGER_FOLD_H

#include "core/ledger/event.h"
#include "core/ledger/table.h"

typedef struct {
    /* The row of that key (texts and integers in key order are set in key), or NULL. The result is the caller's. */
    Row *(*get)(void *context, const Row *key);
    /* Writes a whole row over the one of its key. */
    void (*put)(void *context, const Row *row);
    /* The id that a client's id is kept under (see same.h), lent until the next call; NULL as a whole: every id is its own. */
    const char *(*one)(void *context, const char *client);
    void *context;
} FoldTables;

/* Applies an event. An unknown kind, or a body that lacks what the kind needs, changes nothing (a newer osier may have
 * written it). A redacted event (no body) leaves what headers alone give.
 *
 * Kinds and the bodies that they carry (all instants are whole numbers, milliseconds):
 *   client.set      subject client  {fields: {name: value, ...}}            -> setting; phone, email -> contact
 *   client.consent  subject client  {channel, text, by, at}                 -> contact
 *   client.stop     subject client  {at, why, by, cause}                    -> bar stop
 *   client.pause    subject client  {at, until, why, by}                    -> bar pause
 *   client.suspend  subject client  {at, why, by, cause}                    -> bar suspend
 *   client.end      subject client  {at, why, by}                           -> bar end
 *   client.erase    subject client  {at, why, by, also: [], numbers: []}    -> bar erase, which nothing lifts; erased
 *   redacted        subject client  {also: []}                              -> erased
 *   client.same_as  subject client  {of: client, at, by}                    -> same; what is kept of both is kept under one id
 *   hold.set        subject client  {at, why, by, cause}                    -> bar hold
 *   client.start, client.resume, hold.lift  subject client  {ends: [bar ids], at, by}  -> lifted
 *   screen.done     subject client  {at, by, floor, clear, findings: []}
 *   plan.set        subject client  {fields: {...}}                         -> setting "plan." + name
 *   plan.move       subject client  {stage, by, fields?}                    -> setting "plan.stage"
 *   programme.put   subject hash    {key, text}
 *   session.asked   subject client  {session, date, slot, local, zone, utc, stage, programme, message, at, reasons}
 *   session.closed  subject client  {session, date, slot, local, zone, utc, stage, programme, as, why, at, reasons}
 *   message.settled subject client or "clinic"  {message, to, channel, kind, text, subject, at, session, alert, fate,
 *                                    fate_at, gateway, gateway_id, segments, price, reason}
 *                   a later one of the same message wins by fate precedence (delivered/failed over the rest), then stamp.
 *                   fate lapsed, refused, failed or unsure of a message with kind reminder -> session.failed
 *   reply.received  subject reply   {gateway, gateway_id, fingerprint, from, channel, text, at, arrived, problem}
 *   reply.read      subject reply   {client, session, reading, state, glance, why}       latest stamp wins
 *   reply.settled   subject reply   {by, client, session, reading}   -> state settled, glance 0
 *   reply.seen      subject reply   {by}                             -> glance 0
 *   report.made     subject client  {session, date, slot, at, done, intensity, pain, by, reply, words, local, zone, utc}
 *                   id is the event's; the session's outcome is that of the latest report that says done
 *   measure.taken   subject client  {at, movement, side, method, value, unit, landmark, by}
 *   alert.opened    subject alert   {code, client, kind, class, at, reasons, cause}
 *   alert.passed    subject alert   {to, at, round}
 *   alert.taken     subject alert   {by, at, via}
 *   alert.closed    subject alert   {by, at, outcome, note}
 *   sender.taken    subject "clinic" {replica, epoch, by}            -> setting clinic "sender", the greatest epoch wins
 *   sender.away     subject "clinic" {from, to, why}
 *   replica.joined, replica.cut     subject replica {name, at}
 *   replica.set     subject replica {fields: {name}}                        -> setting "replica." + name
 *   digest.sent     subject week    {at}
 *   clock.bounded   subject replica {first, last, wall}                     -> bounded
 *
 * An event that lies within a bound is folded with that wall time and no count. Whoever folds sees to it, and folds all anew
 * once two ids with rows turn out to be one client's.
 */
void fold_event(const FoldTables *tables, const Event *event);

/* The same for a caller who has the body's tree at hand (NULL where it was redacted). */
void fold_body(const FoldTables *tables, const Event *event, const json_t *body);

/* The greatest epoch of the sender's duty. Beyond it no clinic gets by changing its sender. */
#define EPOCH_MAX (INT64_C(1) << 40)

/* The epoch in the body of a sender.taken: 0 where there is none, or none that can be. */
int64_t duty_epoch(const json_t *body);

#endif
