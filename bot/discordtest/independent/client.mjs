// Logs in to the fake Discord server, registers two commands, answers one
// interaction of each kind, posts and pins a message, and says what it saw. Its
// library shares no code with the one that Setscrew uses.
import { ButtonBuilder, ActionRowBuilder, ButtonStyle, Client, MessageFlags } from 'discord.js';

const [base, channelID] = process.argv.slice(2);
const client = new Client({ intents: [], rest: { api: base + '/api', version: '10' } });

client.once('clientReady', async () => {
  console.log('ready as ' + client.user.username);
  await client.application.commands.set([
    { name: 'ping', description: 'Answers', options: [{ type: 3, name: 'word', description: 'A word', required: true }, { type: 6, name: 'who', description: 'Somebody' }] },
    { name: 'slowly', description: 'Answers later' },
  ]);
  console.log('registered');
});

client.on('interactionCreate', async (i) => {
  if (i.isChatInputCommand() && i.commandName === 'ping') {
    const row = new ActionRowBuilder().addComponents(new ButtonBuilder().setCustomId('more').setLabel('More').setStyle(ButtonStyle.Primary));
    const who = i.options.getUser('who');
    await i.reply({ content: `pong ${i.options.getString('word')} ${who ? who.username : ''}`, flags: MessageFlags.Ephemeral, components: [row] });
  } else if (i.isChatInputCommand()) {
    await i.deferReply();
    await i.editReply('at last');
    const message = await client.rest.post(`/channels/${channelID}/messages`, { body: { content: 'posted', nonce: 'n1', enforce_nonce: true } });
    const again = await client.rest.post(`/channels/${channelID}/messages`, { body: { content: 'posted', nonce: 'n1', enforce_nonce: true } });
    await client.rest.put(`/channels/${channelID}/messages/pins/${message.id}`);
    console.log(again.id === message.id ? 'once' : 'twice');
  } else if (i.isButton()) {
    await i.update({ content: 'pressed ' + i.customId, components: [] });
  }
});

client.on('error', (e) => console.log('error', e));
client.login(process.env.FAKE_TOKEN);
